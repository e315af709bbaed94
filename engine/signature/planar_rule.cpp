#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <complex>
#include <limits>
#include <numeric>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/signature/coil_spectrum.hpp"
#include "engine/signature/gauss_rule.hpp"
#include "engine/signature/planar.hpp"

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
        norm_(s.size(), corners.lanes()),
        found_(2 * s.size(), corners.lanes()) {
    PlanarRule rule = from_points(fine, coupling, 0.0, exactly);
    mutual_inductance(rule, s, corners.block(), exact_);
    // For a pair |INT |W1 W2| rho dk| stands for INT |W1 W2 rho| dk, which is never smaller.
    for (double& weight : rule.weights) weight = std::abs(weight);
    mutual_inductance(rule, s, corners.block(), found_);
    for (std::size_t m = 0; m < s.size(); ++m)
      for (std::size_t lane = 0; lane < corners.lanes(); ++lane)
        norm_[m][lane] = std::hypot(found_[2 * m][lane], found_[2 * m + 1][lane]);
    if (coupling == Coupling::transmitted) {
      for (std::size_t lane = 0; lane < corners.lanes(); ++lane) {
        double air = 0.0;
        const PlanarBlock block = corners.block();
        double gap = block.distance[lane];
        for (const LayerColumns& layer : block.layers) gap += layer.thickness[lane];
        for (std::size_t j = 0; j < fine.nodes.size(); ++j) air += fine.weights[j] * std::exp(-fine.nodes[j] * gap);
        for (std::size_t m = 0; m < s.size(); ++m) floor(m, lane, air);
      }
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
        if (off > 0.0) largest = std::max(largest, off / norm_[m][lane]);
      }
    return largest;
  }

 private:
  void floor(std::size_t m, std::size_t lane, double air) {
    // 1e-12 of the air value is allowed where tolerance times the value is less; the norm carries the ratio 1e-12 /
    // 1e-6.
    norm_[m][lane] = std::max(norm_[m][lane], 1e-6 * std::abs(air));
  }
  const Corners& corners_;
  std::span<const Complex> s_;
  Columns exact_, norm_, found_;
};

/// Gauss rules for the weight W1 W2 exp(-k reference), which may change sign:
/// W1 W2 = [(W1 + c W2)^2 - (W1 - c W2)^2] / (4 c), two positive weights; one when the coils have the same spectrum.
class SignedFamily {
 public:
  SignedFamily(const Points& plus, const Points& minus, Map map) : plus_(plus, map) {
    if (!minus.nodes.empty()) minus_.emplace_back(minus, map);
  }
  Points rule(std::size_t order) {
    Points points = plus_.rule(order);
    if (minus_.empty()) return points;
    const Points other = minus_.front().rule(order);
    points.nodes.insert(points.nodes.end(), other.nodes.begin(), other.nodes.end());
    for (const double weight : other.weights) points.weights.push_back(-weight);
    std::vector<std::size_t> sequence(points.nodes.size());
    std::iota(sequence.begin(), sequence.end(), std::size_t{0});
    std::sort(sequence.begin(), sequence.end(),
              [&](std::size_t a, std::size_t b) { return points.nodes[a] < points.nodes[b]; });
    Points sorted;
    for (const std::size_t i : sequence) {
      sorted.nodes.push_back(points.nodes[i]);
      sorted.weights.push_back(points.weights[i]);
    }
    return sorted;
  }

 private:
  GaussFamily plus_;
  std::vector<GaussFamily> minus_;
};

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

  Points plus, minus;
  {
    double first = 0.0, second = 0.0;
    std::vector<double> w1, w2;
    for (std::size_t j = 0; j < fine.nodes.size(); ++j) {
      w1.push_back(coil_weight(drive, fine.nodes[j]));
      w2.push_back(coil_weight(receive, fine.nodes[j]));
      const double measure = fine.weights[j] / (w1[j] * w2[j]) * std::exp(-fine.nodes[j] * reference);
      first += measure * w1[j] * w1[j];
      second += measure * w2[j] * w2[j];
    }
    const double c = std::sqrt(first / second);
    double difference = 0.0;
    for (std::size_t j = 0; j < fine.nodes.size(); ++j) {
      const double measure = fine.weights[j] / (w1[j] * w2[j]) * std::exp(-fine.nodes[j] * reference) / (4.0 * c);
      plus.nodes.push_back(fine.nodes[j]);
      plus.weights.push_back(measure * (w1[j] + c * w2[j]) * (w1[j] + c * w2[j]));
      minus.nodes.push_back(fine.nodes[j]);
      minus.weights.push_back(measure * (w1[j] - c * w2[j]) * (w1[j] - c * w2[j]));
      difference += minus.weights[j];
    }
    if (difference < 1e-20 * first) minus = {};
  }

  const double radius = 0.5 * (mean_radius(drive) + mean_radius(receive));
  std::vector<SignedFamily> families;
  for (const Map map :
       {Map{1.0, 2.9 / radius}, Map{0.7, 2.4 / (radius + 0.5 * least)}, Map{0.5, 2.0 / (radius + 0.5 * least)}})
    families.emplace_back(plus, minus, map);
  PlanarRule best;
  best.error = std::numeric_limits<double>::infinity();
  for (std::size_t order = 4; order <= largest_order; ++order) {
    for (SignedFamily& family : families) {
      PlanarRule rule = from_points(family.rule(order), coupling, reference, tolerance);
      rule.error = judge.error(rule);
      if (rule.error < best.error) best = std::move(rule);
    }
    if (best.error <= allowed) return best;
  }
  for (const Fineness fineness : {Fineness{3.0, 1e-9}, Fineness{2.0, 1e-11}, referee}) {
    PlanarRule rule = from_points(panels(drive, receive, least, fineness), coupling, 0.0, tolerance);
    rule.error = judge.error(rule);
    if (rule.error < best.error) best = std::move(rule);
    if (best.error <= allowed) break;
  }
  return best;
}

}  // namespace mintspread::signature
