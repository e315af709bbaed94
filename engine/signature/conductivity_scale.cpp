#include "engine/signature/conductivity_scale.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

#include "engine/base/constants.hpp"

namespace mintspread::signature {
namespace {

using Complex = std::complex<double>;

constexpr std::size_t points = 512;
constexpr std::size_t margin = 3;  // of the difference formula on either side
constexpr double thick = 10.0;     // m: nothing of the field of a coil of centimetres reaches through
constexpr double highest_frequency = 10e6;

/// Non-magnetic half-spaces, one a lane.
class HalfSpaces {
 public:
  HalfSpaces(std::vector<double> log_conductivity, double distance) : columns_(4, log_conductivity.size()) {
    for (std::size_t lane = 0; lane < columns_.lanes(); ++lane) {
      columns_[0][lane] = thick;
      columns_[1][lane] = std::exp(log_conductivity[lane]);
      columns_[2][lane] = 1.0;
      columns_[3][lane] = distance;
    }
    layers_.push_back({columns_[0], columns_[1], columns_[2]});
  }
  PlanarBlock block() const { return {layers_, columns_[3]}; }

 private:
  Columns columns_;
  std::vector<LayerColumns> layers_;
};

/// arg(s M) on the imaginary axis, in (-3/4 turn, 1/4 turn]: positive for magnetic, down to -90 degrees for conducting
/// coins.
double impedance_phase(double re, double im) {
  const double phase = std::atan2(re, -im);  // j (re + j im) = -im + j re
  return phase > pi / 2 ? phase - 2 * pi : phase;
}

std::vector<double> phases(const PlanarRule& rule, double frequency, const PlanarBlock& block) {
  const Complex s(0, 2 * pi * frequency);
  Columns out(2, block.lanes());
  mutual_inductance(rule, std::span(&s, 1), block, out);
  std::vector<double> result(block.lanes());
  for (std::size_t lane = 0; lane < result.size(); ++lane) result[lane] = impedance_phase(out[0][lane], out[1][lane]);
  return result;
}

std::vector<double> spaced(double first, double step, std::size_t count) {
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) values[i] = first + step * static_cast<double>(i);
  return values;
}

PlanarRule half_space_rule(const Coil& drive, const Coil& receive, double distance, std::span<const Complex> s,
                           double tolerance) {
  const double first = std::log(ConductivityScale::lowest), last = std::log(ConductivityScale::highest);
  const HalfSpaces corners(spaced(first, (last - first) / 15, 16), distance);
  return make_rule(drive, receive, Coupling::reflected, s, corners.block(), tolerance);
}

}  // namespace

ConductivityScale::ConductivityScale(const Coil& drive, const Coil& receive, double distance, double frequency) {
  const Complex s(0, 2 * pi * frequency);
  const PlanarRule rule = half_space_rule(drive, receive, distance, std::span(&s, 1), 1e-9);
  const double first = std::log(lowest);
  const double step = (std::log(highest) - first) / static_cast<double>(points - 1 - 2 * margin);
  const std::vector<double> x = spaced(first - margin * step, step, points);
  const std::vector<double> p = phases(rule, frequency, HalfSpaces(x, distance).block());
  for (std::size_t i = 1; i < points; ++i) monotone_ = monotone_ && p[i] < p[i - 1];
  if (!monotone_) return;
  for (std::size_t i = margin; i + margin < points; ++i) {
    // Sixth-order central difference: its error is far below that of the cubic it feeds.
    const double slope = (45 * (p[i + 1] - p[i - 1]) - 9 * (p[i + 2] - p[i - 2]) + (p[i + 3] - p[i - 3])) / (60 * step);
    phase_.push_back(p[i]);
    log_conductivity_.push_back(x[i]);
    slope_.push_back(1 / slope);
  }
  const std::size_t between = (log_conductivity_.size() - 1) / 8 * 8;
  const std::vector<double> middle = spaced(first + 0.5 * step, step, between);
  const std::vector<double> there = phases(rule, frequency, HalfSpaces(middle, distance).block());
  for (std::size_t i = 0; i < between; ++i)
    error_ = std::max(error_, std::abs(std::expm1(std::log(conductivity(there[i])) - middle[i])));
}

double ConductivityScale::conductivity(double phase) const {
  if (phase_.empty() || !(phase <= phase_.front()) || !(phase >= phase_.back()))
    return std::numeric_limits<double>::quiet_NaN();
  const auto above = std::lower_bound(phase_.begin() + 1, phase_.end() - 1, phase, std::greater<>());
  const std::size_t i = static_cast<std::size_t>(above - phase_.begin());
  // Cubic through both ends with both slopes.
  const double width = phase_[i] - phase_[i - 1], u = (phase - phase_[i - 1]) / width, v = 1 - u;
  const double start = log_conductivity_[i - 1], end = log_conductivity_[i];
  return std::exp(v * v * (1 + 2 * u) * start + u * u * (1 + 2 * v) * end +
                  width * u * v * (v * slope_[i - 1] - u * slope_[i]));
}

std::optional<double> first_frequency_with_conductivity(const Coil& drive, const Coil& receive,
                                                        const PlanarBlock& block, double from) {
  std::vector<double> frequencies;
  std::vector<Complex> s;
  const double step = std::pow(2.0, 1.0 / 8);
  for (double f = from; f < highest_frequency; f *= step) frequencies.push_back(f);
  frequencies.push_back(highest_frequency);
  for (const double f : frequencies) s.push_back(Complex(0, 2 * pi * f));
  // The phase decides between yes and no; it needs no more digits than the answer.
  const PlanarRule coin_rule = make_rule(drive, receive, Coupling::reflected, s, block, 1e-5);
  const double distance = block.distance[0];
  const PlanarRule rule = half_space_rule(drive, receive, distance, s, 1e-5);
  const HalfSpaces ends(spaced(std::log(ConductivityScale::lowest),
                               (std::log(ConductivityScale::highest) - std::log(ConductivityScale::lowest)) / 7, 8),
                        distance);
  const auto has_one = [&](double frequency) {
    const double phase = phases(coin_rule, frequency, block)[0];
    const std::vector<double> range = phases(rule, frequency, ends.block());
    return phase <= range.front() && phase >= range.back();
  };
  const auto found = std::find_if(frequencies.begin(), frequencies.end(), has_one);
  if (found == frequencies.end()) return std::nullopt;
  if (found == frequencies.begin()) return *found;
  double without = *(found - 1), with = *found;
  while (with / without > 1.001) {
    const double middle = std::sqrt(with * without);
    (has_one(middle) ? with : without) = middle;
  }
  const double digit = std::pow(10.0, std::floor(std::log10(with)) - 1);
  return std::ceil(with / digit - 1e-9) * digit;
}

}  // namespace mintspread::signature
