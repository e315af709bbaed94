#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <span>

#include "engine/signature/planar.hpp"

namespace mintspread::signature {

// How the vector kernel computes one block. Decided in scalar code from extremes over the block's lanes, which are the
// same for every vector width, so that two processors never take different ways.
//
// A layer maps (A, B) = (A, A'/mu_r) from its lower face to its upper: [C, mu_r t S; (k^2 + s g) t S / mu_r, C] with
// g = mu0 mu_r sigma, q = t^2 (k^2 + s g), C = cosh sqrt q and S = sinh sqrt q / sqrt q, all entire in q. Where q is
// small and k^2 t^2 much smaller the entries are short polynomials in u = k^2.

inline constexpr std::size_t planned_layers = 32;  ///< deeper layers are computed without precomputed series
inline constexpr int most_terms = 12;
inline constexpr std::size_t planned_nodes = 64;

/// Extremes of one layer over the lanes of a block; lanes with NaN are left out.
struct LayerRange {
  double thickness = 0.0;          ///< t
  double least_square = 0.0;       ///< least g t^2, s
  double square = 0.0;             ///< largest g t^2, s
  double series = 0.0;             ///< mu_r t, m
  double shunt = 0.0;              ///< t / mu_r, m
  double conductance = 0.0;        ///< mu0 sigma t, s/m
  double admittance_square = 0.0;  ///< mu0 sigma / mu_r, s/m2
  double least_diffusion = 0.0;    ///< least g, s/m2
};

struct StackRange {
  std::array<LayerRange, planned_layers> layers;
  std::size_t known = 0;  ///< layers with a range, from the top
};

/// What follows from the extremes of the distance.
struct NodeRange {
  double least_distance = 0.0, largest_distance = 0.0;
  double air = 0.0;   ///< SUM |weight| exp(-k (distance - reference)) at the largest distance, H
  double most = 0.0;  ///< the same at the least distance
  std::array<double, planned_nodes> reach{};           ///< its terms
  std::array<int, planned_nodes> exponential_terms{};  ///< Taylor terms of exp(-k (distance - reference)); 0: too many
};

/// Which coefficients of the layers' polynomials in u are kept when the whole stack is made one pair of polynomials.
struct Truncation {
  std::size_t stack;    ///< degree of A and B
  std::size_t c, m, d;  ///< degree of C, mu_r t S and (u + s g) t S / mu_r
};
/// From the cheapest to the fullest; the fullest is what single layers are computed with.
inline constexpr std::array truncations{Truncation{1, 1, 0, 1}, Truncation{2, 1, 1, 2}, Truncation{3, 3, 2, 3}};

/// Taylor coefficients in x = g t^2 at one s: SUM c[n] x^n gives C, S and the derivatives of S by q, at u = 0.
struct SeriesTable {
  using Terms = std::array<std::complex<double>, most_terms + 1>;
  Terms c, s, s1, s2;
};

struct FrequencyPlan {
  std::complex<double> s;
  SeriesTable table;
  std::array<std::complex<double>, 4> root{};  ///< binomial(1/2, n) s^(1/2 - n), of the series of the half-space
  std::size_t lowest = 0;                      ///< the layers 0 .. lowest - 1 are computed
  bool opaque = false;        ///< below them lies layer `lowest`, so thick that it stands for a half-space; else air
  double least_square = 0.0;  ///< g t^2 of that layer below which it does not, s: such lanes are computed again
  std::array<int, planned_layers> terms{};               ///< of the series in x
  std::array<std::size_t, planned_layers> thin_nodes{};  ///< nodes at which the layer is computed by its series
  std::size_t series_nodes = 0;  ///< nodes at which the whole stack is one pair of polynomials in u
  std::size_t truncation = 0;    ///< position in `truncations` of those polynomials
  double bound = 0.0;            ///< of the error of M in any lane, H
  double worthless = 0.0;        ///< |M| below which `bound` is too large
};

NodeRange weigh_nodes(const PlanarRule& rule, double least_distance, double largest_distance);

/// Whether the layer stands for a half-space at every one of the frequencies, so that nothing below it counts.
bool hides_what_lies_below(const PlanarRule& rule, std::span<const std::complex<double>> s, const LayerRange& layer);

enum class Shortcuts {
  forbidden,
  proven,  ///< with errors bounded for every coin in range
  likely   ///< also such as are bounded only if |A| stays above 1 where Re s < 0, as it does for Re s >= 0: to be
           ///< measured
};

/// Extremes, rule and one complex frequency to a plan for stacks of `layers` layers. Shortcuts are the half-space and
/// the polynomials of the stack.
FrequencyPlan make_plan(const PlanarRule& rule, std::complex<double> s, const StackRange& stack, const NodeRange& nodes,
                        std::size_t layers, Shortcuts shortcuts);

}  // namespace mintspread::signature
