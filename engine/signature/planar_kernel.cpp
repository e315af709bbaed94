#include "engine/signature/planar_kernel.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "engine/signature/planar_shortcuts.hpp"

// The minimum processor has AVX2; AES instructions, which no vector here uses, would keep Highway from taking that as
// its base.
#define HWY_DISABLE_PCLMUL_AES
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "engine/signature/planar_kernel.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>
//
#include "engine/signature/planar_lanes.inl"
#include "engine/signature/planar_layers.inl"

HWY_BEFORE_NAMESPACE();
namespace mintspread::signature::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

constexpr std::size_t together = 16;  // frequencies computed in one pass over the lanes

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

struct Distances {
  double least, largest;
};

Distances scan_distances(const PlanarBlock& block) {
  Least least{all(HUGE_VAL)};
  Largest largest{all(0.0)};
  for (std::size_t lane = 0; lane < block.lanes(); lane += hn::Lanes(D())) {
    const V distance = load(block.distance, lane);
    least.see(distance);
    largest.see(distance);
  }
  return {std::min(least.get(), largest.get()), largest.get()};  // all NaN: 0, 0
}

LayerRange scan_layer(const LayerColumns& columns, std::size_t lanes) {
  const Largest none{all(0.0)};
  Largest thickness = none, square = none, series = none, shunt = none, conductance = none, admittance = none;
  Least least_square{all(HUGE_VAL)}, least_diffusion{all(HUGE_VAL)};
  for (std::size_t lane = 0; lane < lanes; lane += hn::Lanes(D())) {
    const LayerLanes layer = load_layer(columns, lane);
    const V specific = hn::Mul(layer.diffusion, layer.inverse_permeability);
    thickness.see(layer.thickness);
    square.see(layer.square);
    least_square.see(layer.square);
    series.see(hn::Mul(layer.permeability, layer.thickness));
    shunt.see(hn::Mul(layer.thickness, layer.inverse_permeability));
    conductance.see(hn::Mul(specific, layer.thickness));
    admittance.see(hn::Mul(specific, layer.inverse_permeability));
    least_diffusion.see(layer.diffusion);
  }
  return {thickness.get(), least_square.get(), square.get(),     series.get(),
          shunt.get(),     conductance.get(),  admittance.get(), least_diffusion.get()};
}

/// Extremes of the layers that the rule's own plans look at, or down to one that hides what lies below.
StackRange scan_layers(const PlanarRule& rule, std::span<const Complex> s, const PlanarBlock& block) {
  StackRange range;
  const std::size_t count = std::min(block.layers.size(), planned_layers);
  while (range.known < count) {
    const LayerRange layer = scan_layer(block.layers[range.known], block.lanes());
    range.layers[range.known++] = layer;
    if (rule.shortcuts ? range.known == rule.shortcuts->depth : hides_what_lies_below(rule, s, layer)) break;
  }
  return range;
}

/// Work space for one vector of lanes.
struct Lanes {
  std::array<LayerLanes, planned_layers> layers;
  std::array<LayerSeries<fullest>, planned_layers> series;
  std::array<V, planned_nodes> weight;  ///< weight exp(-k (distance - reference)) at each node of this part
};

/// SUM weight B / (k A + B) over nodes [0, plan.series_nodes) with A and B polynomials in u: rho = 1 - 2 B / (k A + B).
template <std::size_t choice, Plane plane>
HWY_INLINE C series_sum(const PlanarRule& rule, const FrequencyPlan& plan, const Lanes& lanes) {
  constexpr std::size_t count = truncations[choice].stack + 1;
  Polynomial<count> a, b;
  const LayerLanes& core = lanes.layers[plan.lowest];
  half_space<0>(plan, hn::Mul(hn::Sqrt(core.diffusion), core.inverse_permeability), hn::Div(all(1.0), core.diffusion),
                b);
  a[0] = all(Complex(1.0));
  for (std::size_t n = 1; n < count; ++n) a[n] = all(Complex(0.0));
  for (std::size_t i = plan.lowest; i-- > 0;) {
    const LayerSeries<choice> layer = layer_series<choice, plane>(plan, plan.terms[i], lanes.layers[i]);
    Polynomial<count> up_a, up_b;
    if (i + 1 == plan.lowest)
      ascend_first<0>(layer, b, up_a, up_b);
    else
      ascend<0>(layer, a, b, up_a, up_b);
    a = up_a;
    b = up_b;
  }
  C sum = all(Complex(0.0));
  for (std::size_t j = 0; j < plan.series_nodes; ++j) {
    const double k = rule.nodes[j];
    const V u = all(k * k);
    const C at_b = evaluate(b, u), denominator = multiply_add(all(k), evaluate(a, u), at_b);
    const V factor = hn::Div(lanes.weight[j], squared_modulus(denominator));
    sum = multiply_add(factor, multiply_conjugate(at_b, denominator), sum);
  }
  return sum;
}

template <Plane plane>
C series_sum(const PlanarRule& rule, const FrequencyPlan& plan, const Lanes& lanes) {
  static_assert(truncations.size() == 3);
  if (plan.truncation == 0) return series_sum<0, plane>(rule, plan, lanes);
  if (plan.truncation == 1) return series_sum<1, plane>(rule, plan, lanes);
  return series_sum<2, plane>(rule, plan, lanes);
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
      const auto& series = lanes.series[i];
      const C c = evaluate(series.c, u), m = evaluate(series.m, u), d = evaluate(series.d, u);
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
  const bool imaginary = plan.s.real() == 0.0;
  if (plan.series_nodes > 0) {
    sum = imaginary ? series_sum<Plane::imaginary>(rule, plan, lanes) : series_sum<Plane::general>(rule, plan, lanes);
    node = plan.series_nodes;
  }
  if (node < last)
    for (std::size_t i = 0; i < std::min(plan.lowest, planned_layers); ++i)
      if (plan.thin_nodes[i] > node)
        lanes.series[i] = imaginary ? layer_series<fullest, Plane::imaginary>(plan, plan.terms[i], lanes.layers[i])
                                    : layer_series<fullest, Plane::general>(plan, plan.terms[i], lanes.layers[i]);
  for (; node < last; ++node)
    sum = multiply_add(lanes.weight[node - first],
                       direct(plan, rule.coupling, rule.nodes[node], node, block, lane, lanes), sum);
  return sum;
}

/// Frequencies that are computed in one pass over the lanes.
struct Pass {
  std::array<const FrequencyPlan*, together> plans;
  std::array<std::size_t, together> columns;             ///< which frequency each plan is for
  std::array<const FrequencyPlan*, together> judged_by;  ///< the plan that may not be good enough for a lane
  std::array<bool, together> again;                      ///< set where there are such lanes
  std::size_t count = 0;
};

enum class Store { every_lane, lanes_again };  ///< all, or only those for which Pass::judged_by is not good enough

/// Lanes for which a plan's shortcuts are not good enough: |M| is too small for them, or what stands for a half-space
/// is too thin.
HWY_INLINE auto not_good_enough(const FrequencyPlan& plan, C found, const Lanes& lanes) {
  const auto small = hn::Lt(squared_modulus(found), all(plan.worthless * plan.worthless));
  return plan.opaque ? hn::Or(small, hn::Lt(lanes.layers[plan.lowest].square, all(plan.least_square))) : small;
}

C found_before(const Pass& pass, std::size_t p, std::size_t lane, const Columns& out) {
  return {load(out[2 * pass.columns[p]], lane), load(out[2 * pass.columns[p] + 1], lane)};
}

bool none_again(const Pass& pass, std::size_t lane, const Lanes& lanes, const Columns& out) {
  for (std::size_t p = 0; p < pass.count; ++p)
    if (!hn::AllFalse(D(), not_good_enough(*pass.judged_by[p], found_before(pass, p, lane, out), lanes))) return false;
  return true;
}

template <Store store>
void run(const PlanarRule& rule, const NodeRange& nodes, const PlanarBlock& block, Pass& pass, Columns& out) {
  Lanes lanes;
  std::array<C, together> sums;
  std::size_t deepest = 0;
  for (std::size_t p = 0; p < pass.count; ++p) {
    const FrequencyPlan& plan = *pass.plans[p];
    deepest = std::max(deepest, plan.opaque ? plan.lowest + 1 : plan.lowest);
    pass.again[p] = false;
  }
  deepest = std::min(deepest, planned_layers);
  for (std::size_t lane = 0; lane < block.lanes(); lane += hn::Lanes(D())) {
    // A lane with NaN or infinity anywhere is no number in the end, also where that layer falls away.
    const V distance = load(block.distance, lane);
    V poison = distance;
    for (const LayerColumns& layer : block.layers)
      poison = hn::Add(poison, hn::Add(load(layer.thickness, lane),
                                       hn::Add(load(layer.conductivity, lane), load(layer.permeability, lane))));
    poison = hn::Mul(poison, all(0.0));
    for (std::size_t i = 0; i < deepest; ++i) lanes.layers[i] = load_layer(block.layers[i], lane);
    if constexpr (store == Store::lanes_again)
      if (none_again(pass, lane, lanes, out)) continue;
    const V beyond = hn::Sub(all(rule.reference_distance), distance);
    for (std::size_t p = 0; p < pass.count; ++p) sums[p] = {poison, poison};
    for (std::size_t first = 0; first < rule.nodes.size(); first += planned_nodes) {
      const std::size_t last = std::min(first + planned_nodes, rule.nodes.size());
      V total = all(0.0);
      for (std::size_t j = first; j < last; ++j) {
        const int terms = j < planned_nodes ? nodes.exponential_terms[j] : 0;
        const V weight = hn::Mul(all(rule.weights[j]), exp(hn::Mul(all(rule.nodes[j]), beyond), terms));
        lanes.weight[j - first] = weight;
        total = hn::Add(total, weight);
      }
      for (std::size_t p = 0; p < pass.count; ++p) {
        const C part = one_frequency(rule, *pass.plans[p], block, lane, first, last, lanes);
        if (rule.coupling == Coupling::reflected) {
          sums[p].re = hn::Add(sums[p].re, hn::NegMulAdd(all(2.0), part.re, total));
          sums[p].im = hn::NegMulAdd(all(2.0), part.im, sums[p].im);
        } else {
          sums[p] = multiply_add(all(2.0), part, sums[p]);
        }
      }
    }
    for (std::size_t p = 0; p < pass.count; ++p) {
      double* re = out[2 * pass.columns[p]].data() + lane;
      double* im = out[2 * pass.columns[p] + 1].data() + lane;
      if constexpr (store == Store::lanes_again) {
        const C before = found_before(pass, p, lane, out);
        const auto replace = not_good_enough(*pass.judged_by[p], before, lanes);
        sums[p] = {hn::IfThenElse(replace, sums[p].re, before.re), hn::IfThenElse(replace, sums[p].im, before.im)};
      } else if (!hn::AllFalse(D(), not_good_enough(*pass.judged_by[p], sums[p], lanes))) {
        pass.again[p] = true;
      }
      hn::StoreU(sums[p].re, D(), re);
      hn::StoreU(sums[p].im, D(), im);
    }
  }
}

void solve(const PlanarRule& rule, std::span<const Complex> s, const PlanarBlock& block, Columns& out) {
  const StackRange stack = scan_layers(rule, s, block);
  const Distances distances = scan_distances(block);
  const PlanarShortcuts* shortcuts = rule.shortcuts.get();
  NodeRange of_block;
  if (shortcuts && (shortcuts->layers != block.layers.size() || distances.least < shortcuts->nodes.least_distance ||
                    distances.largest > shortcuts->nodes.largest_distance))
    shortcuts = nullptr;
  if (!shortcuts) of_block = weigh_nodes(rule, distances.least, distances.largest);
  const NodeRange& nodes = shortcuts ? shortcuts->nodes : of_block;

  std::array<std::optional<FrequencyPlan>, together> made, made_careful;
  Pass pass;
  for (std::size_t m = 0; m < s.size(); m += together) {
    std::array<const FrequencyPlan*, together> careful{};
    pass.count = std::min(together, s.size() - m);
    for (std::size_t p = 0; p < pass.count; ++p) {
      const PlannedFrequency* planned =
          shortcuts && m + p < shortcuts->frequencies.size() ? &shortcuts->frequencies[m + p] : nullptr;
      if (planned && planned->quick.s == s[m + p] && holds(*planned, stack)) {
        pass.plans[p] = &planned->quick;
        careful[p] = &planned->careful;
      } else {
        made[p] = make_plan(rule, s[m + p], stack, nodes, block.layers.size(), Shortcuts::proven);
        pass.plans[p] = &*made[p];
      }
      pass.columns[p] = m + p;
      pass.judged_by[p] = pass.plans[p];
    }
    run<Store::every_lane>(rule, nodes, block, pass, out);
    std::size_t again = 0;
    for (std::size_t p = 0; p < pass.count; ++p) {
      if (!pass.again[p]) continue;
      if (!careful[p]) {
        made_careful[p] = make_plan(rule, s[m + p], stack, nodes, block.layers.size(), Shortcuts::forbidden);
        careful[p] = &*made_careful[p];
      }
      pass.judged_by[again] = pass.judged_by[p];
      pass.plans[again] = careful[p];
      pass.columns[again++] = m + p;
    }
    pass.count = again;
    if (again > 0) run<Store::lanes_again>(rule, nodes, block, pass, out);
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
