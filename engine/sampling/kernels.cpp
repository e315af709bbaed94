// Highway compiles this file once for each processor family and picks one at run time. The AES instructions are not
// needed; with them asked for, x86-64-v3 would not count as AVX2.
#define HWY_DISABLE_PCLMUL_AES
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "engine/sampling/kernels.cpp"
#include <hwy/foreach_target.h>
// After foreach_target, which includes this file again.
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <bit>
#include <limits>
#include <type_traits>

#include "engine/sampling/kernels.hpp"

HWY_BEFORE_NAMESPACE();
namespace mintspread::sampling::kernels::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using D = hn::ScalableTag<double>;
using U = hn::ScalableTag<std::uint64_t>;
using W = hn::Repartition<std::uint32_t, U>;
using V = hn::Vec<D>;
using VU = hn::Vec<U>;

HWY_INLINE VU word_product(VU a, VU b) {  // of the low words
  return hn::MulEven(hn::BitCast(W(), a), hn::BitCast(W(), b));
}

HWY_INLINE V uniform_of(VU low, VU high) {
  const VU bits = hn::BitCast(U(), hn::OddEven(hn::BitCast(W(), hn::ShiftLeft<32>(high)), hn::BitCast(W(), low)));
  const VU in_one_two = hn::Or(hn::ShiftRight<12>(bits), hn::Set(U(), 0x3FF0000000000000u));
  return hn::Sub(hn::BitCast(D(), in_one_two), hn::Set(D(), 1.0 - 0x1p-53));
}

struct Counter {
  VU c0, c1, c2, c3;
};

// One round. Only the low word of each 64-bit lane counts: the multiplication ignores the upper one, so it may hold
// leftovers.
HWY_INLINE Counter philox_round(Counter c, VU key0, VU key1) {
  const VU product0 = word_product(c.c0, hn::Set(U(), 0xD2511F53u));
  const VU product1 = word_product(c.c2, hn::Set(U(), 0xCD9E8D57u));
  return {hn::Xor(hn::Xor(hn::ShiftRight<32>(product1), c.c1), key0), product1,
          hn::Xor(hn::Xor(hn::ShiftRight<32>(product0), c.c3), key1), product0};
}

// Multipliers and key increments of Philox4x32-10 (Salmon et al. 2011). Two vectors of counters side by side, because
// the rounds of one are a chain of latencies.
std::size_t uniform_pairs(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t first_pair,
                          std::span<double> out) {
  const std::size_t lanes = hn::Lanes(U());
  const VU stream_bits = hn::Set(U(), std::uint64_t{stream} << 16);
  const auto start = [&](VU pair) HWY_ATTR {
    return Counter{pair, hn::Or(hn::ShiftRight<32>(pair), stream_bits), hn::Set(U(), address),
                   hn::Set(U(), address >> 32)};
  };
  const auto store = [&](Counter c, double* to)
                         HWY_ATTR { hn::StoreInterleaved2(uniform_of(c.c0, c.c1), uniform_of(c.c2, c.c3), D(), to); };
  VU pair = hn::Add(hn::Set(U(), first_pair), hn::Iota(U(), 0));
  std::size_t done = 0;
  for (; done + 4 * lanes <= out.size(); done += 4 * lanes) {
    Counter a = start(pair), b = start(hn::Add(pair, hn::Set(U(), lanes)));
    auto key0 = static_cast<std::uint32_t>(seed);
    auto key1 = static_cast<std::uint32_t>(seed >> 32);
    for (int round = 0; round < 10; ++round) {
      const VU k0 = hn::Set(U(), key0), k1 = hn::Set(U(), key1);
      a = philox_round(a, k0, k1);
      b = philox_round(b, k0, k1);
      key0 += 0x9E3779B9u;
      key1 += 0xBB67AE85u;
    }
    store(a, out.data() + done);
    store(b, out.data() + done + 2 * lanes);
    pair = hn::Add(pair, hn::Set(U(), 2 * lanes));
  }
  return done;
}

using W32 = hn::ScalableTag<std::uint32_t>;
using VW = hn::Vec<W32>;

HWY_INLINE VW reverse_bits(VW v) {
  const auto swap = [](VW x, std::uint32_t mask, auto shift) HWY_ATTR {
    constexpr int by = decltype(shift)::value;
    const VW kept = hn::Set(W32(), mask);
    return hn::Or(hn::And(hn::ShiftRight<by>(x), kept), hn::ShiftLeft<by>(hn::And(x, kept)));
  };
  v = swap(v, 0x55555555u, std::integral_constant<int, 1>());
  v = swap(v, 0x33333333u, std::integral_constant<int, 2>());
  v = swap(v, 0x0F0F0F0Fu, std::integral_constant<int, 4>());
  v = swap(v, 0x00FF00FFu, std::integral_constant<int, 8>());
  return hn::RotateRight<16>(v);
}

// nested_scramble (sobol.hpp) lane by lane, of points whose digits stand in reverse; then digits 33 to 52, which the
// points do not have, by a hash of the first 32 (H. Mueller's integer hash, public domain).
HWY_INLINE void store_scrambled(VW v, std::uint32_t seed, std::uint32_t tail, double* to) {
  const auto times = [](VW x, std::uint32_t factor) HWY_ATTR { return hn::Mul(x, hn::Set(W32(), factor)); };
  v = hn::Xor(v, times(v, 0x3d20adeau));
  v = hn::Add(v, hn::Set(W32(), seed));
  v = times(v, (seed >> 16) | 1u);
  v = hn::Xor(v, times(v, 0x05526c56u));
  v = hn::Xor(v, times(v, 0x53a22864u));
  v = reverse_bits(v);
  VW rest = hn::Xor(v, hn::Set(W32(), tail));
  rest = times(hn::Xor(rest, hn::ShiftRight<16>(rest)), 0x45d9f3bu);
  rest = times(hn::Xor(rest, hn::ShiftRight<16>(rest)), 0x45d9f3bu);
  rest = hn::Xor(rest, hn::ShiftRight<16>(rest));
  const auto fraction = [](auto high, auto low) HWY_ATTR {
    const VU bits = hn::Or(hn::ShiftLeft<20>(hn::PromoteTo(U(), high)), hn::ShiftRight<12>(hn::PromoteTo(U(), low)));
    const V in_one_two = hn::BitCast(D(), hn::Or(bits, hn::Set(U(), 0x3FF0000000000000u)));
    return hn::Sub(in_one_two, hn::Set(D(), 1.0 - 0x1p-53));
  };
  const hn::Half<W32> half;
  hn::StoreU(fraction(hn::LowerHalf(half, v), hn::LowerHalf(half, rest)), D(), to);
  hn::StoreU(fraction(hn::UpperHalf(half, v), hn::UpperHalf(half, rest)), D(), to + hn::Lanes(D()));
}

// Points in Gray-code order: point i is the exclusive or of the direction numbers at the ones of i ^ (i >> 1), which is
// linear in i over the digits. A vector of aligned indices is therefore the point of its first one, changed by the
// points 0, 1, 2, ... Reversing the digits is linear, too, and is done once, on the direction numbers.
void scrambled_points(std::span<const std::uint32_t, 32> directions, std::uint32_t seed, std::uint32_t tail,
                      std::uint64_t first, std::span<double> out) {
  const std::size_t lanes = hn::Lanes(W32());
  HWY_ALIGN std::array<std::uint32_t, 32> reversed;
  for (std::size_t digit = 0; digit < reversed.size(); digit += lanes)
    hn::Store(reverse_bits(hn::LoadU(W32(), directions.data() + digit)), W32(), reversed.data() + digit);
  const auto point = [&](std::uint64_t index) {
    std::uint32_t value = 0;
    for (std::uint64_t gray = index ^ (index >> 1); gray != 0; gray &= gray - 1)
      value ^= reversed[static_cast<std::size_t>(std::countr_zero(gray))];
    return value;
  };
  HWY_ALIGN std::array<std::uint32_t, 16> small;
  for (std::uint64_t i = 0; i < lanes; ++i) small[i] = point(i);
  const VW step = hn::Load(W32(), small.data());
  std::uint64_t index = first - first % lanes;
  std::size_t done = 0;
  for (; done < out.size(); index += lanes) {
    const VW values = hn::Xor(step, hn::Set(W32(), point(index)));
    const std::size_t skip = index < first ? first - index : 0;
    if (skip == 0 && out.size() - done >= lanes) {
      store_scrambled(values, seed, tail, out.data() + done);
      done += lanes;
    } else {
      std::array<double, 16> block;
      store_scrambled(values, seed, tail, block.data());
      const std::size_t count = std::min(lanes - skip, out.size() - done);
      std::copy_n(block.data() + skip, count, out.data() + done);
      done += count;
    }
  }
}

HWY_INLINE V ratio(const std::array<double, 8>& above, const std::array<double, 8>& below, V x) {
  V numerator = hn::Set(D(), above[7]), denominator = hn::Set(D(), below[7]);
  for (std::size_t k = 7; k-- > 0;) {
    numerator = hn::MulAdd(numerator, x, hn::Set(D(), above[k]));
    denominator = hn::MulAdd(denominator, x, hn::Set(D(), below[k]));
  }
  return hn::Div(numerator, denominator);
}

// Coefficients of AS 241, PPND16.
constexpr std::array<double, 8> centre_above{3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3,
                                             1.3731693765509461125e4, 4.5921953931549871457e4, 6.7265770927008700853e4,
                                             3.3430575583588128105e4, 2.5090809287301226727e3};
constexpr std::array<double, 8> centre_below{1.0,
                                             4.2313330701600911252e1,
                                             6.8718700749205790830e2,
                                             5.3941960214247511077e3,
                                             2.1213794301586595867e4,
                                             3.9307895800092710610e4,
                                             2.8729085735721942674e4,
                                             5.2264952788528545610e3};
constexpr std::array<double, 8> tail_above{
    1.42343711074968357734e0, 4.63033784615654529590e0,  5.76949722146069140550e0,  3.64784832476320460504e0,
    1.27045825245236838258e0, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4};
constexpr std::array<double, 8> tail_below{1.0,
                                           2.05319162663775882187e0,
                                           1.67638483018380384940e0,
                                           6.89767334985100004550e-1,
                                           1.48103976427480074590e-1,
                                           1.51986665636164571966e-2,
                                           5.47593808499534494600e-4,
                                           1.05075007164441684324e-9};
constexpr std::array<double, 8> far_above{
    6.65790464350110377720e0,  5.46378491116411436990e0,  1.78482653991729133580e0,  2.96560571828504891230e-1,
    2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7};
constexpr std::array<double, 8> far_below{1.0,
                                          5.99832206555887937690e-1,
                                          1.36929880922735805310e-1,
                                          1.48753612908506148525e-2,
                                          7.86869131145613259100e-4,
                                          1.84631831751005468180e-5,
                                          1.42151175831644588870e-7,
                                          2.04426310338993978564e-15};

// Absolute score of the tail probability p <= 0.075.
HWY_INLINE V tail_score(V p) {
  const V zero = hn::Zero(D());
  const auto inside = hn::Gt(p, zero);
  const V safe = hn::IfThenElse(inside, p, hn::Set(D(), 0.01));
  const V r = hn::Sqrt(hn::Neg(hn::Log(D(), safe)));
  V score = ratio(tail_above, tail_below, hn::Sub(r, hn::Set(D(), 1.6)));
  const auto far = hn::Gt(r, hn::Set(D(), 5.0));
  if (!hn::AllFalse(D(), far))
    score = hn::IfThenElse(far, ratio(far_above, far_below, hn::Sub(r, hn::Set(D(), 5.0))), score);
  const V outside = hn::IfThenElse(hn::Eq(p, zero), hn::Set(D(), std::numeric_limits<double>::infinity()),
                                   hn::Set(D(), std::numeric_limits<double>::quiet_NaN()));
  return hn::IfThenElse(inside, score, outside);
}

// 85 of 100 arguments lie in the centre and need no logarithm: the rest is collected, scored in full vectors and put
// back.
constexpr std::size_t batch = 512;

// `count` is a whole number of vectors, at most `batch`. `u` and `scores` may be the same.
HWY_NOINLINE void score_batch(const double* u, double* scores, std::size_t count) {
  alignas(64) std::array<double, batch + 8> tail;
  std::array<std::uint32_t, batch> place;
  std::size_t tails = 0;
  const std::size_t lanes = hn::Lanes(D());
  const V half = hn::Set(D(), 0.5), edge = hn::Set(D(), 0.425);
  for (std::size_t i = 0; i < count; i += lanes) {
    const V argument = hn::LoadU(D(), u + i);
    const V q = hn::Sub(argument, half);
    alignas(8) std::array<std::uint8_t, 8> bits{};
    hn::StoreMaskBits(D(), hn::Not(hn::Le(hn::Abs(q), edge)), bits.data());
    for (unsigned mask = bits[0]; mask != 0; mask &= mask - 1) {
      place[tails] = static_cast<std::uint32_t>(i) + static_cast<std::uint32_t>(std::countr_zero(mask));
      tail[tails] = u[place[tails]];
      ++tails;
    }
    hn::StoreU(hn::Mul(q, ratio(centre_above, centre_below, hn::NegMulAdd(q, q, hn::Set(D(), 0.180625)))), D(),
               scores + i);
  }
  for (std::size_t i = tails; i < tails + lanes; ++i) tail[i] = 0.01;
  for (std::size_t i = 0; i < tails; i += lanes) {
    const V argument = hn::Load(D(), tail.data() + i);
    const auto above = hn::Gt(argument, half);
    const V score = tail_score(hn::IfThenElse(above, hn::Sub(hn::Set(D(), 1.0), argument), argument));
    hn::Store(hn::IfThenElse(above, score, hn::Neg(score)), D(), tail.data() + i);
  }
  for (std::size_t i = 0; i < tails; ++i) scores[place[i]] = tail[i];
}

void normal_scores(std::span<const double> u, std::span<double> scores) {
  const std::size_t whole = u.size() - u.size() % hn::Lanes(D());
  for (std::size_t start = 0; start < whole; start += batch)
    score_batch(u.data() + start, scores.data() + start, std::min(batch, whole - start));
  if (whole == u.size()) return;
  std::array<double, 8> rest;
  rest.fill(0.5);
  std::copy(u.begin() + static_cast<std::ptrdiff_t>(whole), u.end(), rest.begin());
  score_batch(rest.data(), rest.data(), hn::Lanes(D()));
  std::copy_n(rest.begin(), u.size() - whole, scores.begin() + static_cast<std::ptrdiff_t>(whole));
}

}  // namespace mintspread::sampling::kernels::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace mintspread::sampling::kernels {

HWY_EXPORT(uniform_pairs);
HWY_EXPORT(normal_scores);
HWY_EXPORT(scrambled_points);

std::size_t uniform_pairs(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t first_pair,
                          std::span<double> out) {
  return HWY_DYNAMIC_DISPATCH(uniform_pairs)(seed, address, stream, first_pair, out);
}

void scrambled_points(std::span<const std::uint32_t, 32> directions, std::uint32_t seed, std::uint32_t tail,
                      std::uint64_t first, std::span<double> out) {
  HWY_DYNAMIC_DISPATCH(scrambled_points)(directions, seed, tail, first, out);
}

void normal_scores(std::span<const double> u, std::span<double> scores) {
  HWY_DYNAMIC_DISPATCH(normal_scores)(u, scores);
}

}  // namespace mintspread::sampling::kernels
#endif
