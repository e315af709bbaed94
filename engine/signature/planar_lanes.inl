// Complex numbers on vectors of lanes, once for each instruction set: the guard toggles as Highway asks.
#if defined(MINTSPREAD_PLANAR_LANES_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef MINTSPREAD_PLANAR_LANES_INL
#undef MINTSPREAD_PLANAR_LANES_INL
#else
#define MINTSPREAD_PLANAR_LANES_INL
#endif

#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <array>
#include <complex>
#include <cstddef>
#include <span>

HWY_BEFORE_NAMESPACE();
namespace mintspread::signature::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Complex = std::complex<double>;
using D = hn::ScalableTag<double>;
using V = hn::Vec<D>;

HWY_INLINE V all(double value) { return hn::Set(D(), value); }
HWY_INLINE V load(std::span<const double> column, std::size_t lane) { return hn::LoadU(D(), column.data() + lane); }

struct C {
  V re, im;
};

HWY_INLINE C all(Complex value) { return {all(value.real()), all(value.imag())}; }
HWY_INLINE C add(C a, C b) { return {hn::Add(a.re, b.re), hn::Add(a.im, b.im)}; }
HWY_INLINE C scale(V factor, C a) { return {hn::Mul(factor, a.re), hn::Mul(factor, a.im)}; }
HWY_INLINE C conjugate(C a) { return {a.re, hn::Neg(a.im)}; }
HWY_INLINE V squared_modulus(C a) { return hn::MulAdd(a.re, a.re, hn::Mul(a.im, a.im)); }

HWY_INLINE C multiply(C a, C b) {
  return {hn::NegMulAdd(a.im, b.im, hn::Mul(a.re, b.re)), hn::MulAdd(a.im, b.re, hn::Mul(a.re, b.im))};
}
/// a times the conjugate of b.
HWY_INLINE C multiply_conjugate(C a, C b) {
  return {hn::MulAdd(a.im, b.im, hn::Mul(a.re, b.re)), hn::NegMulAdd(a.re, b.im, hn::Mul(a.im, b.re))};
}
HWY_INLINE C multiply_add(C a, C b, C sum) {
  return {hn::NegMulAdd(a.im, b.im, hn::MulAdd(a.re, b.re, sum.re)),
          hn::MulAdd(a.im, b.re, hn::MulAdd(a.re, b.im, sum.im))};
}
HWY_INLINE V multiply_add(V a, V b, double sum) { return hn::MulAdd(a, b, all(sum)); }
HWY_INLINE C multiply_add(V factor, C a, C sum) {
  return {hn::MulAdd(factor, a.re, sum.re), hn::MulAdd(factor, a.im, sum.im)};
}

/// Polynomial with `count` coefficients, lowest power first. Its functions count in template arguments, so that all
/// coefficients stay in registers.
template <std::size_t count>
using Polynomial = std::array<C, count>;

/// sum + coefficient n of a b, the powers of a from `p` up.
template <std::size_t n, std::size_t p = 0, std::size_t count_a, std::size_t count_b>
HWY_INLINE C add_product(const Polynomial<count_a>& a, const Polynomial<count_b>& b, C sum) {
  if constexpr (p > n || p >= count_a) {
    return sum;
  } else {
    return add_product<n, p + 1>(a, b, multiply_add(a[p], b[n - p], sum));
  }
}

/// Value at real u; `n` coefficients are still to come, `above` is the value of those before.
template <std::size_t n, std::size_t count>
HWY_INLINE C horner(const Polynomial<count>& a, V u, C above) {
  if constexpr (n == 0) {
    return above;
  } else {
    return horner<n - 1>(a, u, multiply_add(u, above, a[n - 1]));
  }
}
template <std::size_t count>
HWY_INLINE C evaluate(const Polynomial<count>& a, V u) {
  return horner<count - 1>(a, u, a[count - 1]);
}

HWY_INLINE V exp(V x) { return hn::Exp(D(), x); }

/// exp(x) by its Taylor series up to x^terms; by the general function for 0 terms.
HWY_INLINE V exp(V x, int terms) {
  constexpr double inverse_factorial[] = {
      1.0,        1.0,         1.0 / 2,      1.0 / 6,       1.0 / 24,       1.0 / 120,      1.0 / 720,
      1.0 / 5040, 1.0 / 40320, 1.0 / 362880, 1.0 / 3628800, 1.0 / 39916800, 1.0 / 479001600};
  if (terms == 0) return exp(x);
  V sum = all(inverse_factorial[terms]);
  for (int n = terms; n-- > 0;) sum = hn::MulAdd(sum, x, all(inverse_factorial[n]));
  return sum;
}

struct Angle {
  V cos, sin;
};

/// Both at once, to 2e-16 absolute for |x| < 1e5, and exactly 1 and 0 at 0, so that a layer of no thickness is exactly
/// transparent. Multiples of pi / 2 are taken off in two parts (Cody & Waite), the rest, below pi / 4, goes into Taylor
/// series.
HWY_INLINE Angle cos_sin(V x) {
  const V turns = hn::Round(hn::Mul(x, all(0.63661977236758134308)));
  V rest = hn::NegMulAdd(turns, all(1.57079632679489655800), x);
  rest = hn::NegMulAdd(turns, all(6.12323399573676603587e-17), rest);
  const V square = hn::Mul(rest, rest);
  constexpr double sines[] = {-1.0 / 6,          1.0 / 120,        -1.0 / 5040,           1.0 / 362880,
                              -1.0 / 39916800.0, 1.0 / 6227020800, -1.0 / 1307674368000.0};
  constexpr double cosines[] = {-0.5,           1.0 / 24,          -1.0 / 720,           1.0 / 40320,
                                -1.0 / 3628800, 1.0 / 479001600.0, -1.0 / 87178291200.0, 1.0 / 20922789888000.0};
  V sin = all(sines[6]), cos = all(cosines[7]);
  for (std::size_t n = 6; n-- > 0;) sin = hn::MulAdd(sin, square, all(sines[n]));
  for (std::size_t n = 7; n-- > 0;) cos = hn::MulAdd(cos, square, all(cosines[n]));
  sin = hn::MulAdd(hn::Mul(sin, square), rest, rest);
  cos = hn::MulAdd(cos, square, all(1.0));
  // Quarter turns: odd ones swap, and the signs run cos ++-- against turns, sin ++-- one quarter later.
  const V half = hn::Floor(hn::Mul(turns, all(0.5)));
  const auto odd = hn::Gt(hn::Sub(turns, hn::Add(half, half)), all(0.5));
  const V even_half = hn::Floor(hn::Mul(half, all(0.5)));
  const V flip = hn::Sub(half, hn::Add(even_half, even_half));  // 1 in the second half turn
  const V sign = hn::NegMulAdd(all(2.0), flip, all(1.0));
  return {hn::Mul(sign, hn::IfThenElse(odd, hn::Neg(sin), cos)), hn::Mul(sign, hn::IfThenElse(odd, cos, sin))};
}

/// exp(-z), Re z >= 0.
HWY_INLINE C exp_of_negative(C z) {
  const V size = exp(hn::Neg(z.re));
  const Angle angle = cos_sin(z.im);
  return {hn::Mul(size, angle.cos), hn::Neg(hn::Mul(size, angle.sin))};
}

struct Root {
  C root;
  V modulus_squared;
};

/// kappa = sqrt(u + s g), Re kappa >= 0. The larger part comes from a sum without cancellation, the other by division.
HWY_INLINE Root diffusion_root(V u, Complex s, V g) {
  const V re = hn::MulAdd(all(s.real()), g, u), im = hn::Mul(all(s.imag()), g);
  const V modulus = hn::Sqrt(hn::MulAdd(re, re, hn::Mul(im, im)));
  const V larger = hn::Sqrt(hn::Mul(all(0.5), hn::Add(modulus, hn::Abs(re))));
  const V smaller = hn::Div(hn::Mul(all(0.5), im), larger);
  const auto right = hn::Ge(re, all(0.0));
  return {{hn::IfThenElse(right, larger, hn::Abs(smaller)), hn::IfThenElse(right, smaller, hn::CopySign(larger, im))},
          modulus};
}

}  // namespace mintspread::signature::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
