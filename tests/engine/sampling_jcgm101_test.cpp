#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numeric>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/constants.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/sampling/normal_score.hpp"
#include "engine/sampling/quantile.hpp"
#include "engine/sampling/rank_correlation.hpp"
#include "engine/statistics/binned_counts.hpp"
#include "engine/statistics/moments.hpp"

// The examples of JCGM 101:2008, clause 9 (clause numbers from memory): inputs as printed there, results recomputed to
// more digits by closed forms and one-dimensional quadrature (mpmath); the printed results agree with them to the
// digits given. They run through the same draws, quantile functions, moments and binned quantiles as a production
// study.

using namespace mintspread;
using sampling::Shape;

namespace {

struct InputQuantity {
  double centre;
  Shape deviation;
};

constexpr std::size_t pieces = 1u << 20;
constexpr double one_in_a_million = 1e-6;

struct Propagated {
  statistics::Moments moments;
  statistics::BinnedCounts counts;
};

using ModelFunction = std::function<double(std::span<const double>)>;

/// Values of `model` for a million pieces. `rank`: rank correlation of the first two quantities.
Propagated propagate(const std::vector<InputQuantity>& inputs, const ModelFunction& model,
                     std::optional<double> rank = {}) {
  std::vector<sampling::Quantile> quantiles;
  for (const auto& input : inputs) quantiles.emplace_back(input.deviation);
  std::optional<sampling::RankCorrelation> correlation;
  if (rank)
    correlation = std::get<sampling::RankCorrelation>(sampling::RankCorrelation::make(inputs.size(), {{0, 1, *rank}}));
  std::vector<std::vector<double>> columns(inputs.size(), std::vector<double>(chunk_pieces));
  std::vector<double> row(inputs.size()), values(chunk_pieces);
  std::optional<Propagated> result;
  for (std::uint64_t first = 0; first < pieces; first += chunk_pieces) {
    std::vector<std::span<double>> spans;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
      sampling::uniforms(101, sampling::address_of("jcgm " + std::to_string(i), 0), 0, first, columns[i]);
      if (correlation) {
        sampling::normal_scores(columns[i], columns[i]);
        spans.push_back(columns[i]);
      } else {
        quantiles[i].from_uniform(columns[i], columns[i]);
      }
    }
    if (correlation) {
      correlation->apply(spans);
      for (std::size_t i = 0; i < inputs.size(); ++i) quantiles[i].from_normal_score(columns[i], columns[i]);
    }
    for (std::size_t k = 0; k < values.size(); ++k) {
      for (std::size_t i = 0; i < inputs.size(); ++i) row[i] = inputs[i].centre + columns[i][k];
      values[k] = model(row);
    }
    if (!result) result = Propagated{{}, statistics::BinnedCounts(statistics::BinEdges::from_pilot(values))};
    result->moments.add(values);
    result->counts.add(values);
  }
  return *result;
}

/// Mean and standard deviation to 4.9 standard errors of each, which sampling error exceeds once in a million.
bool moments_agree(const Propagated& found, double mean, double sd) {
  const auto n = static_cast<double>(pieces);
  const double error_of_mean = sd / std::sqrt(n);
  const double error_of_sd = sd * std::sqrt((found.moments.excess_kurtosis() + 2.0) / (4.0 * n));
  return std::abs(found.moments.mean() - mean) < 4.9 * error_of_mean &&
         std::abs(found.moments.sd() - sd) < 4.9 * error_of_sd;
}

/// `exact`, known to `half_digit`, lies in the order-statistics interval that misses once in a million.
bool quantile_agrees(const Propagated& found, double p, double exact, double half_digit = 0.0) {
  const auto interval = found.counts.quantile_interval(p, 1.0 - one_in_a_million);
  const double slack = half_digit + found.counts.resolution();
  return interval.lower - slack < exact && exact < interval.upper + slack;
}

bool half_width_agrees(const Propagated& found, double coverage, double centre, double half_width,
                       double half_digit = 0.0) {
  return quantile_agrees(found, 0.5 - 0.5 * coverage, centre - half_width, half_digit) &&
         quantile_agrees(found, 0.5 + 0.5 * coverage, centre + half_width, half_digit);
}

double sum(std::span<const double> x) { return std::accumulate(x.begin(), x.end(), 0.0); }

InputQuantity rectangle(double centre, double half_width) {
  return {centre, sampling::Uniform{-half_width, half_width}};
}

}  // namespace

TEST_CASE("JCGM 101, 9.2.2: four normal inputs") {
  const auto found = propagate(std::vector<InputQuantity>(4, {0.0, sampling::Normal{1.0}}), sum);
  CHECK(moments_agree(found, 0.0, 2.0));
  CHECK(half_width_agrees(found, 0.95, 0.0, 3.919927969080108));
  const auto wrong = propagate(std::vector<InputQuantity>(4, {0.0, sampling::Normal{1.005}}), sum);
  CHECK_FALSE(moments_agree(wrong, 0.0, 2.0));
}

TEST_CASE("JCGM 101, 9.2.3: four rectangular inputs of one width") {
  const auto found = propagate(std::vector<InputQuantity>(4, rectangle(0.0, std::sqrt(3.0))), sum);
  CHECK(moments_agree(found, 0.0, 2.0));
  CHECK(half_width_agrees(found, 0.95, 0.0, 3.879406741347821));
  CHECK(half_width_agrees(found, 0.99, 0.0, 4.889350136458907));
  CHECK(half_width_agrees(found, 0.9973, 0.0, 5.458509384605801));
  CHECK_FALSE(half_width_agrees(found, 0.95, 0.0, 3.92));  // the normal answer, which the moments alone suggest
}

TEST_CASE("JCGM 101, 9.2.4: one wide rectangular input among narrow ones") {
  std::vector<InputQuantity> inputs(3, rectangle(0.0, std::sqrt(3.0)));
  inputs.push_back(rectangle(0.0, std::sqrt(300.0)));
  const auto found = propagate(inputs, sum);
  CHECK(moments_agree(found, 0.0, std::sqrt(103.0)));
  CHECK(half_width_agrees(found, 0.95, 0.0, 17.0158140998659));
  CHECK(half_width_agrees(found, 0.99, 0.0, 18.8909993006388));
  CHECK(half_width_agrees(found, 0.9973, 0.0, 19.9031341935788));
}

TEST_CASE("JCGM 101, 9.3: calibration of a weight in air") {
  // Reference weight and balance in mg, densities in kg/m3; result: deviation from 100 g in mg.
  const auto inputs = [](double reference_sd) {
    return std::vector<InputQuantity>{{1e5, sampling::Normal{reference_sd}},
                                      {1.234, sampling::Normal{0.020}},
                                      rectangle(1.2, 0.1),
                                      rectangle(8000.0, 1000.0),
                                      rectangle(8000.0, 50.0)};
  };
  const auto model = [](std::span<const double> x) {
    return (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 1e5;
  };
  const auto found = propagate(inputs(0.050), model);
  CHECK(moments_agree(found, 1.2340000, 0.07547973995542));
  CHECK(quantile_agrees(found, 0.025, 1.08443329878515));
  CHECK(quantile_agrees(found, 0.975, 1.38356677929415));
  CHECK(quantile_agrees(found, 0.00135, 1.00399985980599));
  CHECK(quantile_agrees(found, 0.99865, 1.46400038302110));
  CHECK_FALSE(moments_agree(propagate(inputs(0.052), model), 1.2340000, 0.07547973995542));
}

TEST_CASE("JCGM 101, 9.4: comparison loss, with and without correlation") {
  const auto model = [](std::span<const double> x) { return x[0] * x[0] + x[1] * x[1]; };
  const auto inputs = [](double first) {
    return std::vector<InputQuantity>{{first, sampling::Normal{0.005}}, {0.0, sampling::Normal{0.005}}};
  };
  // Rank correlation of a bivariate normal with r = 0.9: (6 / pi) asin(r / 2).
  const double rank = 6.0 / pi * std::asin(0.45);
  const auto apart = propagate(inputs(0.010), model);
  CHECK(moments_agree(apart, 1.5e-4, 1.118034e-4));
  CHECK(quantile_agrees(apart, 0.025, 8.5468e-6, 0.5e-10));
  CHECK(quantile_agrees(apart, 0.975, 4.2712e-4, 0.5e-8));
  CHECK(moments_agree(propagate(inputs(0.0), model), 5e-5, 5e-5));
  CHECK(moments_agree(propagate(inputs(0.050), model), 2.55e-3, 5.024938e-4));

  const auto together = propagate(inputs(0.010), model, rank);
  CHECK(quantile_agrees(together, 0.025, 2.9081e-5, 0.5e-9));
  CHECK(quantile_agrees(together, 0.975, 4.7831e-4, 0.5e-8));
  CHECK(moments_agree(propagate(inputs(0.0), model, rank), 5e-5, 6.726812e-5));
  CHECK(moments_agree(propagate(inputs(0.050), model, rank), 2.55e-3, 5.045047e-4));
  CHECK_FALSE(moments_agree(propagate(inputs(0.0), model, 0.85), 5e-5, 6.726812e-5));
}

TEST_CASE("JCGM 101, 9.5: calibration of a gauge block") {
  // Lengths in nm, temperatures in degrees: standard, comparison and its two errors, expansion, temperatures.
  const auto inputs = [](const Shape& standard) {
    return std::vector<InputQuantity>{{50000623.0, standard},
                                      {215.0, sampling::StudentT{6.0, 24.0}},
                                      {0.0, sampling::StudentT{4.0, 5.0}},
                                      {0.0, sampling::StudentT{7.0, 8.0}},
                                      rectangle(11.5e-6, 2e-6),
                                      {-0.1, sampling::Normal{0.2}},
                                      {0.0, sampling::Arcsine{-0.5, 0.5}},
                                      {0.0, sampling::CurvilinearTrapezoid{1e-6, 0.1e-6}},
                                      {0.0, sampling::CurvilinearTrapezoid{0.05, 0.025}}};
  };
  const auto model = [](std::span<const double> x) {
    return x[0] + x[1] + x[2] + x[3] - x[0] * (x[7] * (x[5] + x[6]) + x[4] * x[8]) - 5e7;
  };
  const auto found = propagate(inputs(sampling::StudentT{25.0, 18.0}), model);
  CHECK(moments_agree(found, 838.0, 35.80807860300873));
  CHECK(half_width_agrees(found, 0.95, 838.0, 70.334995, 0.5e-6));
  CHECK(half_width_agrees(found, 0.9973, 838.0, 110.499650, 0.5e-6));
  // A standard taken as normal, its degrees of freedom forgotten.
  CHECK_FALSE(moments_agree(propagate(inputs(sampling::Normal{25.0}), model), 838.0, 35.80807860300873));
}
