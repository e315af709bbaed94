#pragma once

#include "engine/route/route.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"

namespace mintspread::specs {

// What an anneal's heat is and does. Mistakes are told to the context, and nothing is then written.

/// Points of the furnace profile in `node`, a key of `f`: what is not its hottest part is heating or cooling. `hottest`
/// (K) and `at_heat` (s) are those of the anneal, 0 where they could not be read.
void read_profile(const Node& node, const Fields& f, double hottest, double at_heat, Context& context,
                  route::Anneal& anneal);

/// `half softened` and `exponent` of a metal's change.
void read_softening(const Fields& f, Context& context, route::PropertyChange& change);

/// The points of a metal's `curve`.
void read_curve(const Node& node, const Fields& f, Context& context, route::PropertyChange& change);

}  // namespace mintspread::specs
