#pragma once

#include <optional>
#include <string>

#include "engine/route/route.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"
#include "specs/materials.hpp"

namespace mintspread::specs {

/// Reads loads and baths in the order of the route: a bath by its current belongs to the load before it. Mistakes are
/// told to the context.
class Baths {
 public:
  Baths(const Handbook& handbook, Context& context) : handbook_(handbook), context_(context) {}

  /// Of the nominal blank, m2, over which a load that is told by its pieces spreads the current.
  void set_blank_surface(double surface) { blank_surface_ = surface; }
  /// One filling for all the baths up to the next load.
  void read_load(const Fields& f, const std::string& name);
  route::Bath read(const Fields& f, const std::string& name);

 private:
  void read_amount(const Node& node, const Fields& f, const std::string& step, route::Bath& bath);
  void read_electrolysis(const Fields& f, const std::string& step, route::Bath& bath);
  void warn_of_rim(const Fields& f, InputId ratio);

  const Handbook& handbook_;
  Context& context_;
  double blank_surface_ = 1.0;
  std::optional<InputId> load_;  ///< filling of the load that the baths now read belong to
  double surface_of_one_ = 1.0;  ///< m2 in one unit of it
};

}  // namespace mintspread::specs
