#include "engine/measured/simulation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/sampling/draws.hpp"

namespace mintspread::measured {

namespace {

constexpr double confidence = 0.95;
/// For more values than are simulated: enough for the ratios to be those of many values, and quick.
constexpr std::uint64_t stand_ins = 500;
constexpr double infinity = std::numeric_limits<double>::infinity();

/// What is readable: where several limits were met, the narrowest, which leaves the samples the least to say.
struct Readable {
  double from = -infinity, to = infinity;
};

Readable readable(const Observations& o) {
  Readable out;
  for (const Cell& cell : o.censored) {
    if (cell.lower == -infinity) out.from = std::max(out.from, cell.upper);
    if (cell.upper == infinity) out.to = std::min(out.to, cell.lower);
  }
  return out;
}

/// Quantiles and the distance of the quartiles, on the scale on which the family has a place and a width.
struct Measure {
  std::array<double, 3> quantiles;
  double width;
};

Measure measure(const ShapeFit& fit) {
  const Curve curve(fit.placed);
  const bool logs = fit.family == Family::lognormal;
  const auto at = [&](double p) {
    const double x = curve.quantile({p, 1.0 - p});
    return logs ? std::log(x) : x;
  };
  Measure out{{}, at(0.75) - at(0.25)};
  std::transform(told_quantiles.begin(), told_quantiles.end(), out.quantiles.begin(), at);
  return out;
}

}  // namespace

Simulated simulate(const ShapeFit& fit, const Observations& o, const FitOptions& options) {
  const Curve curve(fit.placed);
  const Readable limits = readable(o);
  const bool judged = fit.a_squared && !o.binned && o.values <= most_simulated_values;
  const std::uint64_t size = o.count > most_simulated_values ? stand_ins : o.count;
  const double fewer = std::sqrt(static_cast<double>(size) / static_cast<double>(o.count));
  const Measure found = measure(fit);
  std::size_t worse = 0;
  std::array<std::vector<double>, 3> off;
  std::vector<double> drawn(size), values;
  std::vector<Censored> censored;
  for (std::size_t draw = 0; draw < options.draws; ++draw) {
    sampling::uniforms(options.seed, sampling::address_of(name_of(fit.family), draw), 0, 0, drawn);
    values.clear(), censored.clear();
    for (double u : drawn) {
      double x = curve.quantile({u, 1.0 - u});
      if (o.step > 0.0) x = o.smallest + o.step * std::round((x - o.smallest) / o.step);
      if (x < limits.from)
        censored.push_back({limits.from, true});
      else if (x > limits.to)
        censored.push_back({limits.to, false});
      else
        values.push_back(x);
    }
    if (values.size() < 2) continue;
    const Observations again = observe(values, o.step, censored);
    if (!(again.smallest < again.largest)) continue;
    const ShapeFit refit = fit_shape(fit.family, again, options.kept, Effort::quick);
    if (judged && (!refit.a_squared || *refit.a_squared >= *fit.a_squared)) ++worse;
    if (!refit.obstacle.empty()) continue;
    const Measure one = measure(refit);
    for (std::size_t i = 0; i < off.size(); ++i)
      off[i].push_back(fewer * (one.quantiles[i] - found.quantiles[i]) / one.width);
  }
  Simulated out;
  if (judged) out.p_value = (1.0 + static_cast<double>(worse)) / (1.0 + static_cast<double>(options.draws));
  // Of n samples the k-th from either end, k = (n + 1) tail, encloses another one with the confidence.
  const std::size_t n = off[0].size();
  const auto rank = static_cast<std::size_t>(0.5 * (1.0 - confidence) * static_cast<double>(n + 1) + 1e-9);
  if (rank == 0) return out;
  out.reach.emplace();
  for (std::size_t i = 0; i < off.size(); ++i) {
    std::sort(off[i].begin(), off[i].end());
    double lower = found.quantiles[i] - found.width * off[i][n - rank];
    double upper = found.quantiles[i] - found.width * off[i][rank - 1];
    if (fit.family == Family::lognormal) lower = std::exp(lower), upper = std::exp(upper);
    (*out.reach)[i] = {lower, upper};
  }
  return out;
}

}  // namespace mintspread::measured
