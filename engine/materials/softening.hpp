#pragma once

#include "engine/materials/interdiffusion.hpp"

namespace mintspread::materials {

/// Recovery and recrystallisation by a rate law. The part that is done after the dose theta = INT dt / t_half(T) is
/// X = 1 - 2^-(theta^n), the law of Johnson & Mehl, Avrami and Kolmogorov (from memory) told by its half; ln t_half is
/// linear in 1/T (Arrhenius), and doses of a furnace profile add up, which is exact for a law of this form (Cahn's
/// isokinetic reaction, from memory). Nothing is told of grain growth after X = 1.
struct Softening {
  Arrhenius rate;   ///< 1 / t_half, 1/s
  double exponent;  ///< n, > 0
  double done(double dose) const;
};

/// Half softened at `first` K in `first_time` s, and at `second` K in `second_time` s; the hotter one sooner
/// (contract).
Softening softening(double first, double first_time, double second, double second_time, double exponent);

}  // namespace mintspread::materials
