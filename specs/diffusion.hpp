#pragma once

#include <set>
#include <string>
#include <vector>

#include "engine/materials/diffusion_pair.hpp"
#include "specs/context.hpp"

namespace mintspread::specs {

/// The pairs of one materials file, at the path "materials": the list `diffusion`, checked. A pair that the method of
/// materials::BlurredBoundary cannot follow is refused with its reason; `elements` are those of which the handbook has
/// metals: a pair of others is told as a warning.
std::vector<materials::DiffusionPair> read_diffusion(const Node& file, const std::set<std::string>& elements,
                                                     Context& context);

}  // namespace mintspread::specs
