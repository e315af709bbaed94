#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <complex>
#include <limits>
#include <memory>
#include <optional>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/signature/coil_spectrum.hpp"
#include "engine/signature/gauss_rule.hpp"
#include "engine/signature/planar.hpp"
#include "engine/signature/planar_shortcuts.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

constexpr std::size_t largest_order = 64;
constexpr double exactly = 1e-13;  // tolerance that leaves the kernel no shortcut worth the name

/// How fine a rule of panels is: `stretch` 1 resolves every oscillation to full precision.
struct Fineness {
  double stretch;   ///< of the panels
  double left_out;  ///< part of the whole beyond the last panel
};
constexpr Fineness referee{1.0, 1e-14};

/// Gauss-Legendre panels that follow the oscillation of both coils' spectra and the decay exp(-k distance), with
/// weights W1 W2 (of either sign); they end where what is left of |W1 W2| exp(-k distance) does not matter.
Points panels(const Coil& drive, const Coil& receive, double distance, Fineness fineness) {
  using Legendre = boost::math::quadrature::gauss<double, 10>;
  const double reach = drive.outer_radius + receive.outer_radius + distance + drive.length + receive.length;
  const double longest = 5.0 * fineness.stretch / reach;
  Points points;
  double lower = 0.0, step = 0.02 * longest, total = 0.0;
  int small = 0;
  while (small < 4) {
    double part = 0.0;
    const double centre = lower + 0.5 * step;
    const std::size_t half = Legendre::abscissa().size();
    for (std::size_t i = 0; i < 2 * half; ++i) {
      const std::size_t of = i < half ? half - 1 - i : i - half;
      const double k = centre + (i < half ? -0.5 : 0.5) * step * Legendre::abscissa()[of];
      const double weight = 0.5 * step * Legendre::weights()[of] * coil_weight(drive, k) * coil_weight(receive, k);
      points.nodes.push_back(k);
      points.weights.push_back(pi * mu0 * weight);
      part += std::abs(weight) * std::exp(-k * distance);
    }
    total += part;
    lower += step;
    small = part * (lower / step) < fineness.left_out * total ? small + 1 : 0;
    step = std::min(longest, 1.5 * step);
  }
  return points;
}

/// The block to check against, in whole vectors of lanes; the last lane is repeated.
class Corners {
 public:
  explicit Corners(const PlanarBlock& box) : columns_(3 * box.layers.size() + 1, (box.lanes() + 7) / 8 * 8) {
    for (std::size_t i = 0; i < box.layers.size(); ++i) {
      const LayerColumns& from = box.layers[i];
      layers_.push_back(
          {fill(3 * i, from.thickness), fill(3 * i + 1, from.conductivity), fill(3 * i + 2, from.permeability)});
    }
    distance_ = fill(3 * box.layers.size(), box.distance);
  }
  PlanarBlock block() const { return {layers_, distance_}; }
  std::size_t lanes() const { return columns_.lanes(); }
  double least_distance() const { return *std::min_element(distance_.begin(), distance_.end()); }
  double largest_distance() const { return *std::max_element(distance_.begin(), distance_.end()); }

 private:
  std::span<const double> fill(std::size_t column, std::span<const double> from) {
    const std::span<double> to = columns_[column];
    for (std::size_t lane = 0; lane < to.size(); ++lane) to[lane] = from[std::min(lane, from.size() - 1)];
    return to;
  }
  Columns columns_;
  std::vector<LayerColumns> layers_;
  std::span<const double> distance_;
};

PlanarRule from_points(const Points& points, Coupling coupling, double reference, double tolerance) {
  PlanarRule rule;
  rule.tolerance = tolerance;
  rule.coupling = coupling;
  rule.reference_distance = reference;
  rule.nodes = points.nodes;
  rule.weights = points.weights;
  return rule;
}

/// What a rule is measured against: the finest panels, in every corner and at every frequency.
class Referee {
 public:
  Referee(const Points& fine, Coupling coupling, std::span<const Complex> s, const Corners& corners)
      : corners_(corners),
        s_(s),
        exact_(2 * s.size(), corners.lanes()),
        found_(2 * s.size(), corners.lanes()),
        norm_(s.size(), corners.lanes()) {
    PlanarRule rule = from_points(fine, coupling, 0.0, exactly);
    mutual_inductance(rule, s, corners.block(), exact_);
    // For a pair |INT |W1 W2| rho dk| stands for INT |W1 W2 rho| dk, which is never smaller.
    for (double& weight : rule.weights) weight = std::abs(weight);
    mutual_inductance(rule, s, corners.block(), found_);
    for (std::size_t lane = 0; lane < corners.lanes(); ++lane) {
      // Through-transmission may be off by 1e-12 of the air value, a change against air by what the sum rounds.
      const double least =
          coupling == Coupling::transmitted ? 1e-6 * std::abs(air(fine, lane)) : 1e-8 * air(rule, lane);
      for (std::size_t m = 0; m < s.size(); ++m)
        norm_[m][lane] = std::max(least, std::hypot(found_[2 * m][lane], found_[2 * m + 1][lane]));
    }
  }

  /// Largest error over corners and frequencies, in the norm of the coupling.
  double error(const PlanarRule& rule) {
    mutual_inductance(rule, s_, corners_.block(), found_);
    double largest = 0.0;
    for (std::size_t m = 0; m < s_.size(); ++m)
      for (std::size_t lane = 0; lane < corners_.lanes(); ++lane) {
        const double off =
            std::hypot(found_[2 * m][lane] - exact_[2 * m][lane], found_[2 * m + 1][lane] - exact_[2 * m + 1][lane]);
        largest = std::max(largest, off / norm_[m][lane]);
      }
    return largest;
  }

 private:
  double air(const Points& points, std::size_t lane) const {
    double gap = corners_.block().distance[lane], sum = 0.0;
    for (const LayerColumns& layer : corners_.block().layers) gap += layer.thickness[lane];
    for (std::size_t j = 0; j < points.nodes.size(); ++j) sum += points.weights[j] * std::exp(-points.nodes[j] * gap);
    return sum;
  }
  double air(const PlanarRule& rule, std::size_t lane) const {
    double sum = 0.0;
    for (std::size_t j = 0; j < rule.nodes.size(); ++j)
      sum += rule.weights[j] * std::exp(-rule.nodes[j] * corners_.block().distance[lane]);
    return sum;
  }
  const Corners& corners_;
  std::span<const Complex> s_;
  Columns exact_, found_, norm_;
};

/// The weight W1 W2 exp(-k reference), which may change sign, as a difference of two positive ones:
/// W1 W2 = [(W1 + c W2)^2 - (W1 - c W2)^2] / (4 c). The second is empty when the coils have the same spectrum.
struct SignedWeight {
  Points plus, minus;
};

SignedWeight split(const Coil& drive, const Coil& receive, const Points& fine, double reference) {
  const std::size_t count = fine.nodes.size();
  std::vector<double> w1(count), w2(count), measure(count);
  double first = 0.0, second = 0.0;
  for (std::size_t j = 0; j < count; ++j) {
    w1[j] = coil_weight(drive, fine.nodes[j]);
    w2[j] = coil_weight(receive, fine.nodes[j]);
    measure[j] = fine.weights[j] / (w1[j] * w2[j]) * std::exp(-fine.nodes[j] * reference);
    first += measure[j] * w1[j] * w1[j];
    second += measure[j] * w2[j] * w2[j];
  }
  const double c = std::sqrt(first / second);
  SignedWeight weight{{fine.nodes, {}}, {fine.nodes, {}}};
  double difference = 0.0;
  for (std::size_t j = 0; j < count; ++j) {
    const double sum = w1[j] + c * w2[j], other = w1[j] - c * w2[j];
    weight.plus.weights.push_back(measure[j] * sum * sum / (4.0 * c));
    weight.minus.weights.push_back(measure[j] * other * other / (4.0 * c));
    difference += measure[j] * other * other;
  }
  if (difference < 1e-20 * first) weight.minus = {};
  return weight;
}

/// Gauss rules of both parts, one after the other in k.
class SignedFamily {
 public:
  SignedFamily(const SignedWeight& weight, Map map) : plus_(weight.plus, map) {
    if (!weight.minus.nodes.empty()) minus_.emplace(weight.minus, map);
  }
  Points rule(std::size_t order) {
    const Points plus = plus_.rule(order);
    if (!minus_) return plus;
    const Points minus = minus_->rule(order);
    Points both;
    for (std::size_t i = 0, j = 0; i < order || j < order;) {
      const bool from_plus = j == order || (i < order && plus.nodes[i] < minus.nodes[j]);
      both.nodes.push_back(from_plus ? plus.nodes[i] : minus.nodes[j]);
      both.weights.push_back(from_plus ? plus.weights[i++] : -minus.weights[j++]);
    }
    return both;
  }

 private:
  GaussFamily plus_;
  std::optional<GaussFamily> minus_;
};

/// Variables to try. Which polynomials fit decides everything: in k itself when the coil's size rules, in roots of k
/// when a large coil lies close to the coin. The scales were found best over the declared range and are tried a little
/// wider and narrower.
std::vector<Map> maps(double radius, double lift_off) {
  std::vector<Map> all;
  for (const Map& map :
       {Map{1.0, 2.9 / radius}, Map{0.7, 2.4 / (radius + lift_off)}, Map{0.5, 2.0 / (radius + lift_off)}})
    for (const double factor : {0.7, 1.0, 1.4}) all.push_back({map.exponent, factor * map.scale});
  return all;
}

}  // namespace

PlanarRule make_rule(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const Complex> s,
                     const PlanarBlock& box, double tolerance) {
  expect(box.lanes() > 0 && !s.empty(), "a planar rule is made for at least one lane and one frequency");
  const Corners corners(box);
  const double least = std::max(0.0, corners.least_distance());
  const double reference = 0.5 * (least + corners.largest_distance());
  const Points fine = panels(drive, receive, least, referee);
  Referee judge(fine, coupling, s, corners);
  const double allowed = 0.3 * tolerance;  // corners are not the whole box

  PlanarRule best;
  best.error = std::numeric_limits<double>::infinity();
  const auto consider = [&](const Points& points, double at) {
    PlanarRule rule = from_points(points, coupling, at, tolerance);
    rule.error = judge.error(rule);
    if (rule.error < best.error) best = std::move(rule);
  };
  const SignedWeight weight = split(drive, receive, fine, reference);
  std::vector<SignedFamily> families;
  for (const Map map : maps(0.5 * (mean_radius(drive) + mean_radius(receive)), 0.5 * least))
    families.emplace_back(weight, map);
  const auto consider_order = [&](std::size_t order) {
    for (SignedFamily& family : families) consider(family.rule(order), reference);
    return best.error <= allowed;
  };
  // Up in growing steps; when that was enough, the orders stepped over from below.
  std::size_t below = 3, order = 4;
  while (order <= largest_order && !consider_order(order)) {
    below = order;
    order += std::max<std::size_t>(1, order / 6);
  }
  for (std::size_t less = below + 1; best.error <= allowed && less < order; ++less) {
    PlanarRule enough = std::exchange(best, {});
    best.error = std::numeric_limits<double>::infinity();
    if (consider_order(less)) break;
    best = std::move(enough);
  }
  for (const Fineness fineness : {Fineness{3.0, 1e-9}, Fineness{2.0, 1e-11}, Fineness{1.4, 1e-13}})
    if (best.error > allowed) consider(panels(drive, receive, least, fineness), 0.0);
  // What polynomials leave out of a layer grows with every quantity of it, so that corners show the most of it.
  const auto with = [&](Shortcuts shortcuts) {
    PlanarRule rule = best;
    rule.shortcuts = std::make_shared<const PlanarShortcuts>(plan_shortcuts(best, s, corners.block(), shortcuts));
    rule.error = std::max(best.error, judge.error(rule));
    return rule;
  };
  const PlanarRule likely = with(Shortcuts::likely);
  return likely.error <= std::max(best.error, allowed) ? likely : with(Shortcuts::proven);
}

}  // namespace mintspread::signature
