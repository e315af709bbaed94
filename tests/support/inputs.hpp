#pragma once

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/input_id.hpp"
#include "engine/route/route.hpp"

namespace mintspread::test {

/// Inputs of a hand-made route, one value each in every lane until a lane is set.
class Inputs {
 public:
  InputId operator()(double value) {
    values_.push_back(std::vector<double>(lanes, value));
    return static_cast<InputId>(values_.size() - 1);
  }
  void set(InputId id, std::size_t lane, double value) { values_[index(id)][lane] = value; }
  std::vector<double>& lanes_of(InputId id) { return values_[index(id)]; }
  std::size_t count() const { return values_.size(); }

  Columns columns() const {
    Columns columns(values_.size(), lanes);
    for (std::size_t i = 0; i < values_.size(); ++i) {
      for (std::size_t lane = 0; lane < lanes; ++lane) columns[i][lane] = values_[i][lane];
    }
    return columns;
  }

  route::Metal metal(double conductivity, double permeability, double density) {
    return {"invented", (*this)(conductivity), (*this)(permeability), (*this)(density), (*this)(0.004)};
  }
  route::Metal steel() { return metal(6.5e6, 120.0, 7860.0); }
  route::Metal copper() { return metal(57e6, 1.0, 8930.0); }
  route::Metal nickel() { return metal(13e6, 60.0, 8900.0); }

  /// A bath stated as face-centre thickness as plated; the other fields are for the test to change.
  route::Bath bath(std::string name, route::Metal metal, double amount, double rim_to_face = 1.0) {
    route::Bath bath;
    bath.name = std::move(name);
    bath.metal = std::move(metal);
    bath.amount = (*this)(amount);
    bath.piece_to_piece = (*this)(1.0);
    bath.rim_to_face = (*this)(rim_to_face);
    bath.mean_to_centre = (*this)(1.0);
    bath.minimum_to_mean = (*this)(1.0);
    return bath;
  }
  route::Blank blank(route::Metal metal, double thickness, double diameter) {
    return {std::move(metal), (*this)(thickness), (*this)(diameter)};
  }
  route::Strike strike(double collar, double rim_thickness, double rim_width, double up, double down) {
    return {(*this)(collar), (*this)(rim_thickness), (*this)(rim_width), (*this)(up), (*this)(down), {}};
  }

  static constexpr std::size_t lanes = 16;

 private:
  std::vector<std::vector<double>> values_;
};

}  // namespace mintspread::test
