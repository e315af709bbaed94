#include "engine/signature/planar_shortcuts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/base/constants.hpp"

namespace mintspread::signature {

namespace {

struct Extremes {
  double least = std::numeric_limits<double>::infinity(), largest = 0.0;

  void see(double value) {
    if (!(value >= 0.0)) return;
    least = std::min(least, value);
    largest = std::max(largest, value);
  }
  /// `margin` is in parts of the box's own width, which is taken in the logarithm.
  double width(double margin) const { return least > 0.0 ? std::pow(largest / least, margin) : 1.0 + margin; }
  double above(double margin) const { return (1.0 + 1e-9 + 0.02 * margin) * largest * width(margin); }
  double below(double margin) const { return least / ((1.0 + 1e-9 + 0.02 * margin) * width(margin)); }
};

struct LayerExtremes {
  Extremes thickness, square, series, shunt, conductance, admittance_square, diffusion;
};

std::vector<LayerExtremes> extremes_of(const PlanarBlock& box) {
  std::vector<LayerExtremes> all(std::min(box.layers.size(), planned_layers));
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t lane = 0; lane < box.lanes(); ++lane) {
      const LayerColumns& layer = box.layers[i];
      const double t = layer.thickness[lane], mu = layer.permeability[lane], of_field = mu0 * layer.conductivity[lane];
      all[i].thickness.see(t);
      all[i].square.see(of_field * mu * t * t);
      all[i].series.see(mu * t);
      all[i].shunt.see(t / mu);
      all[i].conductance.see(of_field * t);
      all[i].admittance_square.see(of_field / mu);
      all[i].diffusion.see(of_field * mu);
    }
  return all;
}

/// Margins from the widest to none.
constexpr double margins[] = {0.5, 0.3, 0.15, 0.0};
constexpr double narrowest = -0.4;
/// The same for what makes a layer opaque. Negative ones are narrower than the box, whose ends are corners that no coin
/// is at: the few lanes beyond are computed again.
constexpr double opaque_margins[] = {0.5, 0.3, 0.15, 0.0, -0.1, -0.2, -0.3, narrowest};

/// Ranges with one margin for what makes a layer opaque, which is the product of all corners already, and one for the
/// rest.
StackRange widened(const std::vector<LayerExtremes>& of, double opaque_margin, double margin) {
  StackRange range;
  range.known = of.size();
  for (std::size_t i = 0; i < of.size(); ++i)
    range.layers[i] = {of[i].thickness.above(margin),
                       of[i].square.below(opaque_margin),
                       of[i].square.above(margin),
                       of[i].series.above(margin),
                       of[i].shunt.above(margin),
                       of[i].conductance.above(margin),
                       of[i].admittance_square.above(margin),
                       of[i].diffusion.below(margin)};
  return range;
}

bool as_quick(const FrequencyPlan& plan, const FrequencyPlan& than) {
  return plan.opaque == than.opaque && plan.lowest == than.lowest && plan.series_nodes == than.series_nodes &&
         plan.truncation <= than.truncation;
}

}  // namespace

PlanarShortcuts plan_shortcuts(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& box,
                               Shortcuts allowed) {
  PlanarShortcuts shortcuts;
  shortcuts.layers = box.layers.size();
  const std::vector<LayerExtremes> extremes = extremes_of(box);
  const StackRange exact = widened(extremes, narrowest, 0.0);
  const auto [least, largest] = std::minmax_element(box.distance.begin(), box.distance.end());
  const auto plan = [&](std::size_t m, const StackRange& stack, const NodeRange& nodes, Shortcuts kind) {
    return make_plan(rule, s[m], stack, nodes, box.layers.size(), kind);
  };
  std::vector<FrequencyPlan> goals;
  for (const double margin : margins) {
    const double more = margin * (0.02 * *largest + *largest - *least);
    shortcuts.nodes = weigh_nodes(rule, std::max(0.0, *least - more), *largest + more);
    const NodeRange own = weigh_nodes(rule, *least, *largest);
    goals.clear();
    bool as_good = true;
    for (std::size_t m = 0; m < s.size(); ++m) {
      goals.push_back(plan(m, exact, shortcuts.nodes, allowed));
      as_good = as_good && as_quick(goals.back(), plan(m, exact, own, allowed));
    }
    if (as_good) break;
  }
  for (std::size_t m = 0; m < s.size(); ++m) {
    PlannedFrequency planned;
    double opaque_margin = 0.0;
    for (const double margin : opaque_margins) {
      opaque_margin = margin;
      planned.quick = plan(m, widened(extremes, margin, 0.0), shortcuts.nodes, allowed);
      if (as_quick(planned.quick, goals[m])) break;
    }
    for (const double margin : margins) {
      planned.range = widened(extremes, opaque_margin, margin);
      planned.quick = plan(m, planned.range, shortcuts.nodes, allowed);
      if (as_quick(planned.quick, goals[m])) break;
    }
    const std::size_t used = planned.quick.opaque ? planned.quick.lowest + 1 : planned.quick.lowest;
    shortcuts.depth = std::max(shortcuts.depth, std::min(used, planned_layers));
    shortcuts.frequencies.push_back(planned);
  }
  // Extremes of deeper layers are not looked at: lanes computed again take those layers as they come.
  for (std::size_t m = 0; m < s.size(); ++m) {
    PlannedFrequency& planned = shortcuts.frequencies[m];
    StackRange seen = planned.range;
    seen.known = std::min(seen.known, shortcuts.depth);
    planned.careful = plan(m, seen, shortcuts.nodes, Shortcuts::forbidden);
  }
  return shortcuts;
}

bool holds(const PlannedFrequency& planned, const StackRange& block) {
  const FrequencyPlan& plan = planned.quick;
  const std::size_t used = std::min(plan.opaque ? plan.lowest + 1 : plan.lowest, planned_layers);
  if (used > block.known) return false;
  for (std::size_t i = 0; i < used; ++i) {
    const LayerRange &here = block.layers[i], &most = planned.range.layers[i];
    if (!(here.thickness <= most.thickness && here.square <= most.square)) return false;
    if (plan.series_nodes == 0) continue;
    if (i < plan.lowest
            ? !(here.series <= most.series && here.shunt <= most.shunt && here.conductance <= most.conductance)
            : !(here.admittance_square <= most.admittance_square && here.least_diffusion >= most.least_diffusion))
      return false;
  }
  return true;
}

}  // namespace mintspread::signature
