#pragma once

#include <fmt/format.h>

#include <string>
#include <utility>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

inline double in_mm(double length) { return length * 1e3; }
inline double in_um(double length) { return length * 1e6; }

/// What is wrong with the values of the nominal piece (lane 0 of `nominal`), gathered. All three must outlive it.
class NominalCheck {
 public:
  NominalCheck(const Columns& nominal, std::vector<Problem>& problems, std::vector<Problem>& warnings)
      : nominal_(nominal), problems_(problems), warnings_(warnings) {}

  double value(InputId id) const { return nominal_[index(id)][0]; }
  void problem(std::string path, std::string what, std::string remedy) {
    problems_.push_back({std::move(path), std::move(what), std::move(remedy)});
    clean_ = false;
  }
  void warn(std::string path, std::string what, std::string remedy) {
    warnings_.push_back({std::move(path), std::move(what), std::move(remedy)});
  }
  bool clean() const { return clean_; }

  void positive(InputId id, const std::string& path, const char* what) {
    if (!(value(id) > 0.0)) problem(path, fmt::format("{} must be above zero", what), "State a positive value.");
  }
  void not_negative(InputId id, const std::string& path, const char* what) {
    if (!(value(id) >= 0.0)) problem(path, fmt::format("{} must not be negative", what), "State zero or more.");
  }
  void metal(const Metal& metal, const std::string& path) {
    not_negative(metal.conductivity, path + ".conductivity", "a conductivity");
    positive(metal.permeability, path + ".permeability", "a relative permeability");
    positive(metal.density, path + ".density", "a density");
  }

 private:
  const Columns& nominal_;
  std::vector<Problem>& problems_;
  std::vector<Problem>& warnings_;
  bool clean_ = true;
};

}  // namespace mintspread::route
