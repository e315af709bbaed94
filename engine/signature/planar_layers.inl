// Layers on vectors of lanes, once for each instruction set: the guard toggles as Highway asks.
#if defined(MINTSPREAD_PLANAR_LAYERS_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef MINTSPREAD_PLANAR_LAYERS_INL
#undef MINTSPREAD_PLANAR_LAYERS_INL
#else
#define MINTSPREAD_PLANAR_LAYERS_INL
#endif

#include "engine/base/constants.hpp"
#include "engine/signature/planar_lanes.inl"
#include "engine/signature/planar_plan.hpp"

HWY_BEFORE_NAMESPACE();
namespace mintspread::signature::HWY_NAMESPACE {

/// One layer in a vector of lanes: what does not depend on the frequency.
struct LayerLanes {
  V thickness, inverse_permeability, permeability;
  V diffusion;  ///< g = mu0 mu_r sigma
  V square;     ///< g t^2
};

LayerLanes load_layer(const LayerColumns& layer, std::size_t lane) {
  LayerLanes lanes;
  lanes.thickness = load(layer.thickness, lane);
  lanes.permeability = load(layer.permeability, lane);
  lanes.inverse_permeability = hn::Div(all(1.0), lanes.permeability);
  lanes.diffusion = hn::Mul(hn::Mul(all(mu0), lanes.permeability), load(layer.conductivity, lane));
  lanes.square = hn::Mul(lanes.diffusion, hn::Mul(lanes.thickness, lanes.thickness));
  return lanes;
}

/// Polynomials in u = k^2 of one thin layer at one frequency.
template <std::size_t choice>
struct LayerSeries {
  Polynomial<truncations[choice].c + 1> c;
  Polynomial<truncations[choice].m + 1> m;
  Polynomial<truncations[choice].d + 1> d;
};
inline constexpr std::size_t fullest = truncations.size() - 1;

enum class Plane { general, imaginary };  ///< where s lies: anywhere, or on the imaginary axis

/// SUM table[n] x^n, real x; `square` is x^2. On the imaginary axis every other coefficient is real, the rest
/// imaginary.
template <Plane plane>
HWY_INLINE C horner(const SeriesTable::Terms& table, int terms, V x, V square) {
  const auto top = static_cast<std::size_t>(terms);
  if constexpr (plane == Plane::general) {
    C sum = all(table[top]);
    for (std::size_t n = top; n-- > 0;)
      sum = {multiply_add(sum.re, x, table[n].real()), multiply_add(sum.im, x, table[n].imag())};
    return sum;
  } else {
    const std::size_t even = top / 2 * 2, odd = (top - 1) / 2 * 2 + 1;
    C sum = {all(table[even].real()), all(table[odd].imag())};
    for (std::size_t n = even; n > 0; n -= 2) sum.re = multiply_add(sum.re, square, table[n - 2].real());
    for (std::size_t n = odd; n > 1; n -= 2) sum.im = multiply_add(sum.im, square, table[n - 2].imag());
    sum.im = hn::Mul(sum.im, x);
    return sum;
  }
}

template <std::size_t choice, Plane plane>
HWY_INLINE LayerSeries<choice> layer_series(const FrequencyPlan& plan, int terms, const LayerLanes& layer) {
  constexpr Truncation kept = truncations[choice];
  static_assert(kept.c >= 1 && kept.d >= 1 && kept.c <= 3 && kept.m <= 2 && kept.d <= 3);
  LayerSeries<choice> series;
  const V x = layer.square, x2 = hn::Mul(x, x);
  const V t2 = hn::Mul(layer.thickness, layer.thickness), t4 = hn::Mul(t2, t2);
  const V mt = hn::Mul(layer.permeability, layer.thickness);
  const V shunt = hn::Mul(layer.thickness, layer.inverse_permeability);
  const C c = horner<plane>(plan.table.c, terms, x, x2);
  const C s = horner<plane>(plan.table.s, terms, x, x2);
  series.c[0] = c;
  series.m[0] = scale(mt, s);
  // s g t / mu_r S
  const V conductance = hn::Mul(layer.diffusion, shunt);
  if constexpr (plane == Plane::general) {
    series.d[0] = multiply(scale(conductance, s), all(plan.s));
  } else {
    const V imaginary = hn::Mul(conductance, all(plan.s.imag()));
    series.d[0] = {hn::Neg(hn::Mul(imaginary, s.im)), hn::Mul(imaginary, s.re)};
  }
  // d/dq of C is S / 2, of q S is (C + S) / 2, and so on.
  series.c[1] = scale(hn::Mul(all(0.5), t2), s);
  series.d[1] = scale(hn::Mul(all(0.5), shunt), add(c, s));
  if constexpr (kept.c >= 2 || kept.m >= 1 || kept.d >= 2) {
    const C s1 = horner<plane>(plan.table.s1, terms, x, x2);
    if constexpr (kept.m >= 1) series.m[1] = scale(hn::Mul(mt, t2), s1);
    if constexpr (kept.c >= 2) series.c[2] = scale(hn::Mul(all(0.25), t4), s1);
    if constexpr (kept.d >= 2)
      series.d[2] = scale(hn::Mul(all(0.25), hn::Mul(shunt, t2)), multiply_add(all(0.5), s, s1));
    if constexpr (kept.c >= 3 || kept.m >= 2 || kept.d >= 3) {
      const C s2 = horner<plane>(plan.table.s2, terms, x, x2);
      if constexpr (kept.m >= 2) series.m[2] = scale(hn::Mul(all(0.5), hn::Mul(mt, t4)), s2);
      if constexpr (kept.c >= 3) series.c[3] = scale(hn::Mul(all(1.0 / 12.0), hn::Mul(t4, t2)), s2);
      if constexpr (kept.d >= 3)
        series.d[3] = scale(hn::Mul(all(1.0 / 12.0), hn::Mul(shunt, t4)), multiply_add(all(0.5), s1, s2));
    }
  }
  return series;
}

/// sqrt(s g + u) / mu_r in powers of u.
template <std::size_t n, std::size_t count>
HWY_INLINE void half_space(const FrequencyPlan& plan, V real, V inverse, Polynomial<count>& eta) {
  if constexpr (n < count) {
    eta[n] = scale(real, all(plan.root[n]));
    half_space<n + 1>(plan, hn::Mul(real, inverse), inverse, eta);
  }
}

/// (A, B) through one layer, from the coefficient of u^n on.
template <std::size_t n, std::size_t count, std::size_t choice>
HWY_INLINE void ascend(const LayerSeries<choice>& layer, const Polynomial<count>& a, const Polynomial<count>& b,
                       Polynomial<count>& up_a, Polynomial<count>& up_b) {
  if constexpr (n < count) {
    up_a[n] = add_product<n, 1>(layer.m, b, add_product<n>(layer.c, a, multiply(layer.m[0], b[n])));
    up_b[n] = add_product<n, 1>(layer.d, a, add_product<n>(layer.c, b, multiply(layer.d[0], a[n])));
    ascend<n + 1>(layer, a, b, up_a, up_b);
  }
}

/// The same where A = 1 below.
template <std::size_t n, std::size_t count, std::size_t choice>
HWY_INLINE void ascend_first(const LayerSeries<choice>& layer, const Polynomial<count>& b, Polynomial<count>& up_a,
                             Polynomial<count>& up_b) {
  if constexpr (n < count) {
    up_a[n] = add_product<n, 1>(layer.m, b, multiply(layer.m[0], b[n]));
    up_b[n] = add_product<n, 1>(layer.c, b, multiply(layer.c[0], b[n]));
    if constexpr (n <= truncations[choice].c) up_a[n] = add(up_a[n], layer.c[n]);
    if constexpr (n <= truncations[choice].d) up_b[n] = add(up_b[n], layer.d[n]);
    ascend_first<n + 1>(layer, b, up_a, up_b);
  }
}

}  // namespace mintspread::signature::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
