#include "engine/materials/interdiffusion.hpp"

#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::materials {

namespace {

constexpr double finest = 8e-4, coarsest = 1.5e-2, growth = 0.015;
constexpr double usual_ratio = 8e-3;  // down to which these sizes do

/// Sizes of volumes from the interface outwards until they fill `length`; all of them, and their growth, times `scale`.
std::vector<double> graded(double length, double fineness, double scale) {
  std::vector<double> sizes;
  double sum = 0.0;
  for (double size = scale * finest; sum < length; size = std::min(size * (1.0 + scale * growth), coarsest)) {
    sizes.push_back(size);
    sum += size;
  }
  const int parts = std::max(1, static_cast<int>(std::lround(fineness)));
  std::vector<double> finer;
  for (const double size : sizes) {
    for (int part = 0; part < parts; ++part) finer.push_back(size * length / sum / parts);
  }
  return finer;
}

/// T exp(-z) (1 - z e^z E1(z)) with z = q / T: INT_0^T exp(-q / t) dt. E1 by its continued fraction (Abramowitz &
/// Stegun 5.1.22, from memory), which converges quickly for the z above 5 of every anneal.
double up_to(double q, double temperature) {
  const double z = q / temperature;
  double tail = z + 25.0;
  for (int n = 12; n >= 1; --n) tail = z + 2.0 * n - 1.0 - n * n / tail;
  return temperature * std::exp(-z) * (1.0 - z / tail);
}

}  // namespace

double Arrhenius::at(double temperature) const { return factor * std::exp(-activation / (gas_constant * temperature)); }

double Arrhenius::over_ramp(double from, double to, double duration) const {
  // Nearly level: the difference of two integrals would lose what the middle tells exactly.
  if (std::abs(to - from) < 1e-3) return at(0.5 * (from + to)) * duration;
  const double q = activation / gas_constant;
  return factor * duration * (up_to(q, to) - up_to(q, from)) / (to - from);
}

Couple::Couple(double ratio, double width, double fineness) : ratio_(ratio) {
  expect(ratio > 0.0 && width > 0.0, "a couple has two metals that diffuse");
  // Far apart, the coefficients leave a steep front in the first metal, some four units of sqrt(ratio theta) wide.
  const double scale = std::min(1.0, std::sqrt(ratio / usual_ratio));
  const auto left = graded(width, fineness, scale), right = graded(1.0, fineness, 1.0);
  size_.assign(left.rbegin(), left.rend());
  size_.insert(size_.end(), right.begin(), right.end());
  double x = -width;
  for (std::size_t i = 0; i < size_.size(); ++i) {
    middle_.push_back(x + 0.5 * size_[i]);
    x += size_[i];
    fraction_.push_back(i < left.size() ? 0.0 : 1.0);
  }
}

void Couple::advance(double theta) {
  expect(theta >= theta_, "diffusion does not go back");
  // What an early step leaves is a shift in theta, which counts the less the further the couple goes: steps may be
  // longer there.
  constexpr double first = 1e-7, longest = 0.1, longer = 0.03;
  int started = theta_ > 0.0 ? 4 : 0;
  while (theta_ < theta) {
    const double wanted = std::max(first, std::min(longest * theta_, longer * std::sqrt(theta_ * theta)));
    const double by = theta_ + 1.5 * wanted >= theta ? theta - theta_ : wanted;
    step(by, started < 4 ? 1.0 : 0.5);
    ++started;
    theta_ = by == theta - theta_ ? theta : theta_ + by;
  }
}

void Couple::step(double by, double implicit) {
  const std::size_t n = size_.size();
  const std::vector<double> before = fraction_;
  // What passes a face for a difference of one, with the coefficient half-way between the two compositions.
  const double log_ratio = std::log(ratio_);
  const auto conductances = [&](const std::vector<double>& c) {
    std::vector<double> g(n, 0.0);
    for (std::size_t i = 0; i + 1 < n; ++i)
      g[i] = std::exp((1.0 - 0.5 * (c[i] + c[i + 1])) * log_ratio) / (middle_[i + 1] - middle_[i]);
    return g;
  };
  const auto then = conductances(before);
  std::vector<double> pivot(n), right(n);
  // The coefficient at the end of a step follows its composition; with steps as long as advance() takes, each pass
  // leaves about a hundredth of the change of the one before.
  constexpr double settled = 1e-7;
  constexpr int most_passes = 6;
  double moved = 1.0;
  for (int pass = 1; moved > settled && pass <= most_passes; ++pass) {
    const auto now = conductances(fraction_);
    for (std::size_t i = 0; i < n; ++i) {
      const double up = by * implicit * now[i], down = i > 0 ? by * implicit * now[i - 1] : 0.0;
      double known = size_[i] * before[i];
      const double still = by * (1.0 - implicit);
      if (i + 1 < n) known += still * then[i] * (before[i + 1] - before[i]);
      if (i > 0) known -= still * then[i - 1] * (before[i] - before[i - 1]);
      pivot[i] = size_[i] + up + down;
      right[i] = known;
      if (i > 0) {
        const double factor = down / pivot[i - 1];
        pivot[i] -= factor * down;
        right[i] += factor * right[i - 1];
      }
    }
    moved = 0.0;
    for (std::size_t i = n; i-- > 0;) {
      const double above = i + 1 < n ? by * implicit * now[i] * fraction_[i + 1] : 0.0;
      const double is = (right[i] + above) / pivot[i];
      moved = std::max(moved, std::abs(is - fraction_[i]));
      fraction_[i] = is;
    }
    if (moved > settled && pass < most_passes) continue;
    // The amount is taken from the fluxes themselves, so that solving leaves no trace in it.
    std::vector<double> flux(n, 0.0);
    for (std::size_t i = 0; i + 1 < n; ++i)
      flux[i] = by * (implicit * now[i] * (fraction_[i + 1] - fraction_[i]) +
                      (1.0 - implicit) * then[i] * (before[i + 1] - before[i]));
    for (std::size_t i = 0; i < n; ++i) fraction_[i] = before[i] + (flux[i] - (i > 0 ? flux[i - 1] : 0.0)) / size_[i];
  }
}

double Couple::at(double x) const {
  const auto next = static_cast<std::size_t>(std::ranges::lower_bound(middle_, x) - middle_.begin());
  if (next == 0) return fraction_.front();
  if (next == middle_.size()) return fraction_.back();
  const double along = (x - middle_[next - 1]) / (middle_[next] - middle_[next - 1]);
  return fraction_[next - 1] + along * (fraction_[next] - fraction_[next - 1]);
}

double Couple::amount() const {
  double sum = 0.0;
  for (std::size_t i = 0; i < size_.size(); ++i) sum += size_[i] * fraction_[i];
  return sum;
}

}  // namespace mintspread::materials
