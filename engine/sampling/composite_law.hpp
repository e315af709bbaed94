#pragma once

#include <memory>

#include "engine/sampling/law.hpp"

namespace mintspread::sampling {

/// `law` given that it lies in `kept` (contract: some of it does). Moments by adaptive Gauss-Legendre quadrature over
/// the normal score, to about 1e-12 of the standard deviation.
std::unique_ptr<Law> cut_law(std::unique_ptr<Law> law, Support kept);

std::unique_ptr<Law> measured_law(const Measured& shape);
std::unique_ptr<Law> mixture_law(const Mixture& shape);

}  // namespace mintspread::sampling
