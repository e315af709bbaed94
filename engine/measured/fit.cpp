#include "engine/measured/fit.hpp"

#include <nlopt.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <type_traits>

#include "engine/base/contract.hpp"
#include "engine/measured/simulation.hpp"
#include "engine/statistics/anderson_darling.hpp"

namespace mintspread::measured {

namespace {

constexpr double impossible = 1e100;

struct Search {
  const Parameters& parameters;
  const Observations& observations;
};

double badness(unsigned count, const double* numbers, double*, void* context) {
  const auto& search = *static_cast<const Search*>(context);
  const auto placed = search.parameters.placed({numbers, count});
  if (!placed) return impossible;
  const double found = -log_likelihood(Curve(*placed), search.observations);
  return std::isfinite(found) ? std::min(found, impossible) : impossible;
}

std::optional<Placed> search(const Parameters& parameters, const Observations& observations, Effort effort) {
  Search context{parameters, observations};
  std::vector<double> best;
  double least = impossible;
  const auto starts = parameters.starts();
  for (const auto& start : starts) {
    if (effort == Effort::quick && !best.empty()) break;
    std::vector<double> numbers = start;
    // A second search about the first one's end frees a simplex that has collapsed.
    for (double step : {0.4, 0.1}) {
      if (effort == Effort::quick && step < 0.4) break;
      const std::unique_ptr<std::remove_pointer_t<nlopt_opt>, decltype(&nlopt_destroy)> simplex(
          nlopt_create(NLOPT_LN_NELDERMEAD, static_cast<unsigned>(numbers.size())), nlopt_destroy);
      nlopt_set_min_objective(simplex.get(), badness, &context);
      nlopt_set_initial_step1(simplex.get(), step);
      nlopt_set_xtol_abs1(simplex.get(), effort == Effort::full ? 1e-8 : 1e-4);
      nlopt_set_maxeval(simplex.get(), 4000);
      double found = impossible;
      const nlopt_result ended = nlopt_optimize(simplex.get(), numbers.data(), &found);
      expect(ended > 0 || ended == NLOPT_ROUNDOFF_LIMITED, "the search was set up rightly");
      if (found < least) least = found, best = numbers;
    }
  }
  return best.empty() ? std::nullopt : parameters.placed(best);
}

bool plain(const Observations& o) {
  return o.censored.empty() &&
         std::all_of(o.cells.begin(), o.cells.end(), [](const Cell& cell) { return cell.lower == cell.upper; });
}

Placed closed_normal(const Observations& o) {
  const auto n = static_cast<double>(o.values);
  return {o.mean, sampling::Normal{o.sd * std::sqrt((n - 1.0) / n)}};
}

Placed closed_lognormal(const Observations& o) {
  const auto n = static_cast<double>(o.values);
  double mean = 0.0, squares = 0.0;
  for (const Cell& cell : o.cells) mean += static_cast<double>(cell.count) * std::log(cell.value) / n;
  for (const Cell& cell : o.cells) {
    const double deviation = std::log(cell.value) - mean;
    squares += static_cast<double>(cell.count) * deviation * deviation;
  }
  const double median = std::exp(mean);
  return {median, sampling::Lognormal{median, std::sqrt(squares / n)}};
}

Kept closed_uniform(const Observations& o) {
  const Cell &first = o.cells.front(), &last = o.cells.back();
  const auto n = static_cast<double>(o.values);
  if (first.value == last.value) return {first.lower, last.upper};
  // ln L = n1 ln(u1 - a) + nk ln(b - lk) - n ln(b - a), with a and b inside of the outermost cells.
  const double n1 = static_cast<double>(first.count), nk = static_cast<double>(last.count);
  if (n1 + nk >= n) return {first.lower, last.upper};
  const double width = (last.lower - first.upper) / (1.0 - (n1 + nk) / n);
  double a = first.upper - n1 * width / n, b = last.lower + nk * width / n;
  if (a < first.lower) {
    a = first.lower;
    b = (last.lower - nk * a / n) / (1.0 - nk / n);
  }
  if (b > last.upper) {
    b = last.upper;
    a = std::max(first.lower, (first.upper - n1 * b / n) / (1.0 - n1 / n));
  }
  return {a, b};
}

Placed between(Kept ends) {
  const double middle = 0.5 * (ends.lower + ends.upper);
  return {middle, sampling::Uniform{ends.lower - middle, ends.upper - middle}};
}

ShapeFit fit_with(Family family, const Observations& o, std::optional<Kept> kept, Effort effort) {
  ShapeFit fit;
  fit.family = family;
  const Parameters parameters(family, o, kept);
  fit.estimated = parameters.estimated();
  fit.obstacle = parameters.obstacle();
  const auto n = static_cast<double>(o.count), k = static_cast<double>(parameters.counted());
  if (fit.obstacle.empty() && n - k - 1.0 <= 0.0) fit.obstacle = "too few values for its parameters";
  if (!fit.obstacle.empty()) return fit;
  std::optional<Placed> placed;
  if (family == Family::normal && plain(o))
    placed = closed_normal(o);
  else if (family == Family::lognormal && plain(o))
    placed = closed_lognormal(o);
  else if (family == Family::uniform && o.censored.empty())
    placed = between(closed_uniform(o));
  else
    placed = search(parameters, o, effort);
  if (!placed) {
    fit.obstacle = "no shape of this family fits the values";
    return fit;
  }
  fit.log_likelihood = log_likelihood(Curve(*placed), o);
  if (const auto* ends = std::get_if<sampling::Uniform>(&placed->deviation)) {
    const double out = (ends->upper - ends->lower) / (static_cast<double>(o.count) - 1.0);
    placed = between({placed->at + ends->lower - out, placed->at + ends->upper + out});
  }
  fit.placed = *placed;
  const Curve curve(fit.placed);
  fit.mean = curve.mean(), fit.sd = curve.sd();
  fit.aicc = 2.0 * k - 2.0 * fit.log_likelihood + 2.0 * k * (k + 1.0) / (n - k - 1.0);
  if (o.censored.empty()) fit.a_squared = anderson_darling_of(curve, o);
  return fit;
}

bool has_formula(const ShapeFit& fit, const Observations& o) {
  // The formula knows nothing of rounding, of which the statistic keeps the mean only.
  return (fit.family == Family::normal || fit.family == Family::lognormal) && o.values >= 8 && o.step < 0.3 * o.sd;
}

void judge(ShapeFit& fit, const Observations& o, const FitOptions& options, double best) {
  if (!fit.obstacle.empty()) return;
  const bool formula = fit.a_squared && has_formula(fit, o);
  if (options.draws > 0 && fit.aicc <= best + simulated_within) {
    const Simulated found = simulate(fit, o, options);
    fit.reach = found.reach;
    if (found.p_value && !formula) fit.p_value = found.p_value, fit.judged = Judged::simulated;
  }
  if (formula) {
    // The formula is about the standard deviation with divisor n - 1.
    Placed placed = fit.placed;
    const auto n = static_cast<double>(o.values);
    const double wider = std::sqrt(n / (n - 1.0));
    if (auto* normal = std::get_if<sampling::Normal>(&placed.deviation)) normal->sd *= wider;
    if (auto* logs = std::get_if<sampling::Lognormal>(&placed.deviation)) logs->log_sd *= wider;
    fit.a_squared = anderson_darling_of(Curve(placed), o);
    fit.p_value = statistics::normality_p_value(*fit.a_squared, o.values);
    fit.judged = Judged::formula;
  }
}

}  // namespace

double anderson_darling_of(const Curve& curve, const Observations& o) {
  if (!plain(o)) {
    std::vector<statistics::SeenBetween> seen;
    for (const Cell& cell : o.cells)
      seen.push_back({curve.below(cell.lower), curve.above(cell.lower), curve.below(cell.upper),
                      curve.above(cell.upper), cell.count});
    return statistics::anderson_darling_between(seen);
  }
  std::vector<statistics::Seen> seen;
  // A value at a fitted end is as if a quarter of a value lay beyond it.
  const double least = 0.25 / static_cast<double>(o.values);
  const sampling::Support support = curve.support();
  for (const Cell& cell : o.cells) {
    double below = curve.below(cell.value), above = curve.above(cell.value);
    if (std::isfinite(support.lower)) below = std::max(below, least);
    if (std::isfinite(support.upper)) above = std::max(above, least);
    seen.push_back({below, above, cell.count});
  }
  return statistics::anderson_darling(seen);
}

ShapeFit fit_shape(Family family, const Observations& observations, std::optional<Kept> kept, Effort effort) {
  expect(observations.smallest < observations.largest, "two different values");
  return fit_with(family, observations, kept, effort);
}

std::vector<ShapeFit> fit_shapes(const Observations& observations, const FitOptions& options) {
  std::vector<ShapeFit> fits;
  for (const Family family : families) fits.push_back(fit_shape(family, observations, options.kept));
  std::stable_sort(fits.begin(), fits.end(), [](const ShapeFit& a, const ShapeFit& b) {
    if (a.obstacle.empty() != b.obstacle.empty()) return a.obstacle.empty();
    return a.obstacle.empty() && a.aicc < b.aicc;
  });
  const double best = fits.front().aicc;
  for (ShapeFit& fit : fits) judge(fit, observations, options, best);
  return fits;
}

}  // namespace mintspread::measured
