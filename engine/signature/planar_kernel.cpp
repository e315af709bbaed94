#include "engine/signature/planar_kernel.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/signature/planar_plan.hpp"

// The minimum processor has AVX2; AES instructions, which no vector here uses, would keep Highway from taking that as
// its base.
#define HWY_DISABLE_PCLMUL_AES
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "engine/signature/planar_kernel.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>
//
#include "engine/signature/planar_lanes.inl"

HWY_BEFORE_NAMESPACE();
namespace mintspread::signature::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

constexpr std::size_t together = 16;  // frequencies computed in one pass over the lanes

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

/// Largest value over the lanes of a block; NaN never wins. No default values here: an implied constructor is compiled
/// for the least processor.
struct Largest {
  V value;
  void see(V lanes) { value = hn::Max(value, hn::IfThenElse(hn::IsNaN(lanes), all(0.0), lanes)); }
  double get() const { return hn::GetLane(hn::MaxOfLanes(D(), value)); }
};
struct Least {
  V value;
  void see(V lanes) { value = hn::Min(value, hn::IfThenElse(hn::IsNaN(lanes), all(HUGE_VAL), lanes)); }
  double get() const { return hn::GetLane(hn::MinOfLanes(D(), value)); }
};

BlockRange scan(const PlanarRule& rule, std::span<const Complex> s, const PlanarBlock& block) {
  BlockRange range;
  Least nearest{all(HUGE_VAL)};
  Largest farthest{all(0.0)};
  for (std::size_t lane = 0; lane < block.lanes(); lane += hn::Lanes(D())) {
    const V distance = load(block.distance, lane);
    nearest.see(distance);
    farthest.see(distance);
  }
  range.least_distance = nearest.get();
  range.largest_distance = farthest.get();
  if (!(range.least_distance <= range.largest_distance)) range.least_distance = range.largest_distance;  // all NaN
  weigh_nodes(rule, range);
  const std::size_t count = std::min(block.layers.size(), planned_layers);
  for (std::size_t i = 0; i < count; ++i) {
    const Largest none{all(0.0)};
    Largest thickness = none, square = none, series = none, shunt = none, conductance = none, admittance = none;
    Least least_square{all(HUGE_VAL)}, least_diffusion{all(HUGE_VAL)};
    for (std::size_t lane = 0; lane < block.lanes(); lane += hn::Lanes(D())) {
      const LayerLanes layer = load_layer(block.layers[i], lane);
      const V specific = hn::Mul(hn::Mul(layer.diffusion, layer.inverse_permeability), all(1.0));
      thickness.see(layer.thickness);
      square.see(layer.square);
      least_square.see(layer.square);
      series.see(hn::Mul(layer.permeability, layer.thickness));
      shunt.see(hn::Mul(layer.thickness, layer.inverse_permeability));
      conductance.see(hn::Mul(specific, layer.thickness));
      admittance.see(hn::Mul(specific, layer.inverse_permeability));
      least_diffusion.see(layer.diffusion);
    }
    LayerRange& to = range.layers[i];
    to.thickness = thickness.get();
    to.square = square.get();
    to.least_square = least_square.get();
    to.series = series.get();
    to.shunt = shunt.get();
    to.conductance = conductance.get();
    to.admittance_square = admittance.get();
    to.least_diffusion = least_diffusion.get();
    range.known = i + 1;
    if (hides_what_lies_below(rule, s, to)) break;
  }
  return range;
}

/// Polynomials in u = k^2 of one thin layer at one frequency.
struct LayerSeries {
  std::array<C, 4> c, d;
  std::array<C, 3> m;
};

/// SUM table[n] x^n, real x.
C horner(const SeriesTable::Terms& table, int terms, V x) {
  const auto top = static_cast<std::size_t>(terms);
  C sum = all(table[top]);
  for (std::size_t n = top; n-- > 0;) {
    sum.re = hn::MulAdd(sum.re, x, all(table[n].real()));
    sum.im = hn::MulAdd(sum.im, x, all(table[n].imag()));
  }
  return sum;
}

template <int degree>
HWY_INLINE LayerSeries layer_series(const FrequencyPlan& plan, int terms, const LayerLanes& layer) {
  LayerSeries series;
  const V t2 = hn::Mul(layer.thickness, layer.thickness);
  const V mt = hn::Mul(layer.permeability, layer.thickness);
  const V shunt = hn::Mul(layer.thickness, layer.inverse_permeability);
  const C c = horner(plan.table.c, terms, layer.square);
  const C s = horner(plan.table.s, terms, layer.square);
  series.c[0] = c;
  series.m[0] = scale(mt, s);
  // s g t / mu_r S
  series.d[0] =
      multiply(scale(hn::Mul(hn::Mul(layer.diffusion, layer.inverse_permeability), layer.thickness), s), all(plan.s));
  // d/dq of C is S / 2, of q S is (C + S) / 2, and so on.
  series.c[1] = scale(hn::Mul(all(0.5), t2), s);
  series.d[1] = scale(hn::Mul(all(0.5), shunt), add(c, s));
  if constexpr (degree >= 2) {
    const C s1 = horner(plan.table.s1, terms - 1, layer.square);
    const V t4 = hn::Mul(t2, t2);
    series.m[1] = scale(hn::Mul(mt, t2), s1);
    series.c[2] = scale(hn::Mul(all(0.25), t4), s1);
    series.d[2] = scale(hn::Mul(all(0.25), hn::Mul(shunt, t2)), multiply_add(all(0.5), s, s1));
    if constexpr (degree >= 3) {
      const C s2 = horner(plan.table.s2, terms - 2, layer.square);
      series.m[2] = scale(hn::Mul(all(0.5), hn::Mul(mt, t4)), s2);
      series.c[3] = scale(hn::Mul(all(1.0 / 12.0), hn::Mul(t4, t2)), s2);
      series.d[3] = scale(hn::Mul(all(1.0 / 12.0), hn::Mul(shunt, t4)), multiply_add(all(0.5), s1, s2));
    }
  }
  return series;
}

/// Work space for one vector of lanes.
struct Lanes {
  std::array<LayerLanes, planned_layers> layers;
  std::array<LayerSeries, planned_layers> series;
  std::array<V, planned_nodes> weight;  ///< weight exp(-k (distance - reference)) at each node of this part
  V total;                              ///< their sum
};

/// SUM weight B / (k A + B) over nodes [0, plan.series_nodes) with A and B polynomials in u: rho = 1 - 2 B / (k A + B).
template <int degree, int layers>
HWY_INLINE C series_sum(const PlanarRule& rule, const FrequencyPlan& plan, const Lanes& lanes) {
  constexpr std::size_t top = degree, kept = layers;
  std::array<C, top + 1> a, b;
  for (C& coefficient : a) coefficient = all(Complex(0.0));
  a[0].re = all(1.0);
  {
    // eta = sqrt(s g) / mu_r (1 + v / 2 - v^2 / 8 + v^3 / 16), v = u / (s g)
    const LayerLanes& core = lanes.layers[plan.lowest];
    V real = hn::Mul(hn::Sqrt(core.diffusion), core.inverse_permeability);
    const V inverse = hn::Div(all(1.0), core.diffusion);
    constexpr std::array<double, 4> binomial{1.0, 0.5, -0.125, 0.0625};
    Complex constant = std::sqrt(plan.s);
    for (std::size_t n = 0; n <= top; ++n) {
      b[n] = scale(real, all(binomial[n] * constant));
      real = hn::Mul(real, inverse);
      constant /= plan.s;
    }
  }
  for (std::size_t i = plan.lowest; i-- > 0;) {
    const LayerSeries series = layer_series<layers>(plan, plan.terms[i], lanes.layers[i]);
    std::array<C, top + 1> up_a, up_b;
    for (std::size_t n = 0; n <= top; ++n) {
      C sum_a = multiply(series.m[0], b[n]), sum_b = multiply(series.d[0], a[n]);
      for (std::size_t p = 0; p <= std::min(n, kept); ++p) {
        sum_a = multiply_add(series.c[p], a[n - p], sum_a);
        sum_b = multiply_add(series.c[p], b[n - p], sum_b);
        if (p > 0 && p < kept) sum_a = multiply_add(series.m[p], b[n - p], sum_a);
        if (p > 0) sum_b = multiply_add(series.d[p], a[n - p], sum_b);
      }
      up_a[n] = sum_a;
      up_b[n] = sum_b;
    }
    a = up_a;
    b = up_b;
  }
  C sum = all(Complex(0.0));
  for (std::size_t j = 0; j < plan.series_nodes; ++j) {
    const double k = rule.nodes[j];
    const V u = all(k * k);
    C at_a = a[top], at_b = b[top];
    for (std::size_t n = top; n-- > 0;) {
      at_a = multiply_add(u, at_a, a[n]);
      at_b = multiply_add(u, at_b, b[n]);
    }
    const C denominator = multiply_add(all(k), at_a, at_b);
    const V factor = hn::Div(lanes.weight[j], squared_modulus(denominator));
    sum = multiply_add(factor, multiply_conjugate(at_b, denominator), sum);
  }
  return sum;
}

/// One node by the layers themselves: B / (k A + B), or for through-transmission k / (k A + B) times what the layers
/// pass on.
HWY_INLINE C direct(const FrequencyPlan& plan, Coupling coupling, double k, std::size_t node, const PlanarBlock& block,
                    std::size_t lane, const Lanes& lanes) {
  const V u = all(k * k);
  C a = all(Complex(1.0)), b = all(Complex(k)), passed = all(Complex(1.0));
  if (plan.opaque) {
    const LayerLanes& core = lanes.layers[plan.lowest];
    b = scale(core.inverse_permeability, diffusion_root(u, plan.s, core.diffusion).root);
  }
  for (std::size_t i = plan.lowest; i-- > 0;) {
    if (i < planned_layers && node < plan.thin_nodes[i]) {
      const LayerSeries& series = lanes.series[i];
      C c = series.c[3], m = series.m[2], d = series.d[3];
      for (std::size_t n = 3; n-- > 0;) {
        c = multiply_add(u, c, series.c[n]);
        d = multiply_add(u, d, series.d[n]);
        if (n < 2) m = multiply_add(u, m, series.m[n]);
      }
      const C up = multiply_add(c, a, multiply(m, b));
      b = multiply_add(c, b, multiply(d, a));
      a = up;
      continue;
    }
    const LayerLanes layer = i < planned_layers ? lanes.layers[i] : load_layer(block.layers[i], lane);
    const Root kappa = diffusion_root(u, plan.s, layer.diffusion);
    const C once = exp_of_negative(scale(layer.thickness, kappa.root));
    const C twice = multiply(once, once);
    // The common factor exp(kappa t) / 2 is left out of A and B: only decaying exponentials occur.
    const C plus = {hn::Add(all(1.0), twice.re), twice.im};
    const C minus = {hn::Sub(all(1.0), twice.re), hn::Neg(twice.im)};
    const C over = scale(hn::Div(layer.permeability, kappa.modulus_squared), conjugate(kappa.root));
    const C eta = scale(layer.inverse_permeability, kappa.root);
    const C up = multiply_add(plus, a, multiply(minus, multiply(b, over)));
    b = multiply_add(plus, b, multiply(minus, multiply(a, eta)));
    a = up;
    if (coupling == Coupling::transmitted) passed = multiply(passed, add(once, once));
  }
  const C denominator = multiply_add(all(k), a, b);
  const C numerator = coupling == Coupling::reflected ? b : scale(all(k), passed);
  return scale(hn::Div(all(1.0), squared_modulus(denominator)), multiply_conjugate(numerator, denominator));
}

C one_frequency(const PlanarRule& rule, const FrequencyPlan& plan, const PlanarBlock& block, std::size_t lane,
                std::size_t first, std::size_t last, Lanes& lanes) {
  C sum = all(Complex(0.0));
  std::size_t node = first;
  if (plan.series_nodes > 0) {
    switch (plan.truncation) {
      case 0:
        sum = series_sum<1, 1>(rule, plan, lanes);
        break;
      case 1:
        sum = series_sum<2, 1>(rule, plan, lanes);
        break;
      case 2:
        sum = series_sum<2, 2>(rule, plan, lanes);
        break;
      default:
        sum = series_sum<3, 3>(rule, plan, lanes);
        break;
    }
    node = plan.series_nodes;
  }
  if (node < last)
    for (std::size_t i = 0; i < std::min(plan.lowest, planned_layers); ++i)
      if (plan.thin_nodes[i] > node) lanes.series[i] = layer_series<3>(plan, plan.terms[i], lanes.layers[i]);
  for (; node < last; ++node)
    sum = multiply_add(lanes.weight[node - first],
                       direct(plan, rule.coupling, rule.nodes[node], node, block, lane, lanes), sum);
  return sum;
}

struct Pass {
  std::array<FrequencyPlan, together> plans;
  std::array<std::size_t, together> columns;  ///< which frequency each plan is for
  std::array<bool, together> worthless;       ///< set where a lane's value is too small for the plan's bound
  std::size_t count = 0;
};

void run(const PlanarRule& rule, const PlanarBlock& block, Pass& pass, Columns& out) {
  Lanes lanes;
  std::size_t deepest = 0;
  for (std::size_t p = 0; p < pass.count; ++p) {
    const FrequencyPlan& plan = pass.plans[p];
    deepest = std::max(deepest, plan.opaque ? plan.lowest + 1 : plan.lowest);
    pass.worthless[p] = false;
  }
  deepest = std::min(deepest, planned_layers);
  for (std::size_t lane = 0; lane < block.lanes(); lane += hn::Lanes(D())) {
    // A lane with NaN or infinity anywhere is no number in the end, also where that layer falls away.
    const V distance = load(block.distance, lane);
    V poison = hn::Mul(distance, all(0.0));
    for (const LayerColumns& layer : block.layers) {
      poison = hn::MulAdd(load(layer.thickness, lane), all(0.0), poison);
      poison = hn::MulAdd(load(layer.conductivity, lane), all(0.0), poison);
      poison = hn::MulAdd(load(layer.permeability, lane), all(0.0), poison);
    }
    for (std::size_t i = 0; i < deepest; ++i) lanes.layers[i] = load_layer(block.layers[i], lane);
    const V beyond = hn::Sub(all(rule.reference_distance), distance);
    for (std::size_t first = 0; first < rule.nodes.size(); first += planned_nodes) {
      const std::size_t last = std::min(first + planned_nodes, rule.nodes.size());
      lanes.total = all(0.0);
      for (std::size_t j = first; j < last; ++j) {
        const V weight = hn::Mul(all(rule.weights[j]), exp(hn::Mul(all(rule.nodes[j]), beyond)));
        lanes.weight[j - first] = weight;
        lanes.total = hn::Add(lanes.total, weight);
      }
      for (std::size_t p = 0; p < pass.count; ++p) {
        const FrequencyPlan& plan = pass.plans[p];
        C sum = one_frequency(rule, plan, block, lane, first, last, lanes);
        if (rule.coupling == Coupling::reflected) {
          sum.re = hn::NegMulAdd(all(2.0), sum.re, lanes.total);
          sum.im = hn::Mul(all(-2.0), sum.im);
        } else {
          sum = add(sum, sum);
        }
        double* re = out[2 * pass.columns[p]].data() + lane;
        double* im = out[2 * pass.columns[p] + 1].data() + lane;
        if (first > 0) sum = add(sum, {hn::LoadU(D(), re), hn::LoadU(D(), im)});
        if (last == rule.nodes.size()) {
          sum.re = hn::Add(sum.re, poison);
          sum.im = hn::Add(sum.im, poison);
          if (plan.bound > 0.0 &&
              !hn::AllFalse(D(), hn::Lt(squared_modulus(sum), all(plan.worthless * plan.worthless))))
            pass.worthless[p] = true;
        }
        hn::StoreU(sum.re, D(), re);
        hn::StoreU(sum.im, D(), im);
      }
    }
  }
}

void solve(const PlanarRule& rule, std::span<const Complex> s, const PlanarBlock& block, Columns& out) {
  const BlockRange range = scan(rule, s, block);
  Pass pass;
  for (std::size_t m = 0; m < s.size(); m += together) {
    pass.count = std::min(together, s.size() - m);
    for (std::size_t p = 0; p < pass.count; ++p) {
      pass.plans[p] = make_plan(rule, s[m + p], range, block.layers.size(), Shortcuts::allowed);
      pass.columns[p] = m + p;
    }
    run(rule, block, pass, out);
    std::size_t again = 0;
    for (std::size_t p = 0; p < pass.count; ++p) {
      if (!pass.worthless[p]) continue;
      pass.plans[again] = make_plan(rule, s[m + p], range, block.layers.size(), Shortcuts::forbidden);
      pass.columns[again++] = m + p;
    }
    pass.count = again;
    if (again > 0) run(rule, block, pass, out);
  }
}

const char* target() { return hwy::TargetName(HWY_TARGET); }

}  // namespace mintspread::signature::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace mintspread::signature {

HWY_EXPORT(solve);
HWY_EXPORT(target);

void solve_block(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& block,
                 Columns& out) {
  HWY_DYNAMIC_DISPATCH(solve)(rule, s, block, out);
}

const char* vector_target() { return HWY_DYNAMIC_DISPATCH(target)(); }

}  // namespace mintspread::signature
#endif
