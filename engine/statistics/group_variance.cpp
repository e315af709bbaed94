#include "engine/statistics/group_variance.hpp"

#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

void NestedGroups::add(std::span<const std::string_view> names, double value) {
  expect(names.size() == units_.size(), "every value is in a unit of every group");
  if (places_.empty()) places_.resize(units_.size());
  all_.add(std::span(&value, 1));
  std::size_t outer = 0;
  for (std::size_t level = 0; level < names.size(); ++level) {
    const auto [place, fresh] = places_[level].try_emplace({outer, std::string(names[level])}, units_[level].size());
    if (fresh) units_[level].push_back({outer, {}});
    outer = place->second;
    if (level + 1 == names.size()) units_[level][outer].moments.add(std::span(&value, 1));
  }
}

std::vector<GroupVariance> NestedGroups::variances() const {
  const std::size_t levels = units_.size();
  const double n = static_cast<double>(all_.count());
  expect(all_.count() >= 2, "a variance needs two values");
  // Moments of every unit, merged outwards in the order of first appearance.
  std::vector<std::vector<Moments>> moments(levels);
  for (std::size_t level = levels; level-- > 0;) {
    moments[level].resize(units_[level].size());
    if (level + 1 == levels)
      for (std::size_t u = 0; u < units_[level].size(); ++u) moments[level][u] = units_[level][u].moments;
    else
      for (std::size_t u = 0; u < units_[level + 1].size(); ++u)
        moments[level][units_[level + 1][u].outer].merge(moments[level + 1][u]);
  }
  // within[l]: squares about the means of level l; l = 0 is the whole, l = levels + 1 the single values.
  std::vector<double> within(levels + 2, 0.0);
  std::vector<std::uint64_t> units(levels + 2, 1);
  within[0] = all_.m2();
  for (std::size_t l = 1; l <= levels; ++l) {
    units[l] = moments[l - 1].size();
    for (const Moments& unit : moments[l - 1]) within[l] += unit.m2();
  }
  units[levels + 1] = all_.count();

  // c[m][l] for l <= m, levels counted from 1, level 0 the whole.
  std::vector<std::vector<double>> c(levels + 2, std::vector<double>(levels + 2, n));
  for (std::size_t m = 1; m <= levels + 1; ++m) {
    std::vector<double> squares;  // of the sizes of the units of m, summed in each unit of the level at hand
    for (std::size_t l = m; l-- > 0;) {
      std::vector<double> sums(l == 0 ? 1 : moments[l - 1].size(), 0.0);
      if (l == levels) {  // m = levels + 1: single values
        for (std::size_t u = 0; u < sums.size(); ++u) sums[u] = static_cast<double>(moments[l - 1][u].count());
      } else if (l + 1 == m && m <= levels) {
        for (std::size_t u = 0; u < moments[m - 1].size(); ++u) {
          const auto size = static_cast<double>(moments[m - 1][u].count());
          sums[l == 0 ? 0 : units_[m - 1][u].outer] += size * size;
        }
      } else {
        for (std::size_t u = 0; u < squares.size(); ++u) sums[l == 0 ? 0 : units_[l][u].outer] += squares[u];
      }
      c[m][l] = 0.0;
      for (std::size_t u = 0; u < sums.size(); ++u)
        c[m][l] += sums[u] / (l == 0 ? n : static_cast<double>(moments[l - 1][u].count()));
      squares = std::move(sums);
    }
  }

  std::vector<GroupVariance> out(levels + 1);
  // Each variance as a sum of multiples of mean squares.
  std::vector<std::vector<double>> multiples(levels + 1, std::vector<double>(levels + 1, 0.0));
  for (std::size_t l = levels + 1; l >= 1; --l) {
    GroupVariance& group = out[l - 1];
    group.units = units[l];
    group.freedom = units[l] - units[l - 1];
    if (group.freedom == 0) continue;
    const double squares = within[l - 1] - within[l];
    group.mean_square = squares / static_cast<double>(group.freedom);
    double known = 0.0;
    for (std::size_t m = l + 1; m <= levels + 1; ++m) known += out[m - 1].variance * (c[m][l] - c[m][l - 1]);
    group.part = (n - c[l][l - 1]) / static_cast<double>(group.freedom);
    group.variance = (squares - known) / (n - c[l][l - 1]);
    std::vector<double>& own = multiples[l - 1];
    own[l - 1] = static_cast<double>(group.freedom) / (n - c[l][l - 1]);
    for (std::size_t m = l + 1; m <= levels + 1; ++m)
      for (std::size_t j = m; j <= levels + 1; ++j)
        own[j - 1] -= multiples[m - 1][j - 1] * (c[m][l] - c[m][l - 1]) / (n - c[l][l - 1]);
    double squared = 0.0;
    for (std::size_t j = l; j <= levels + 1; ++j) {
      if (out[j - 1].freedom == 0) continue;
      const double part = own[j - 1] * out[j - 1].mean_square;
      squared += 2.0 * part * part / static_cast<double>(out[j - 1].freedom);
    }
    group.uncertainty = std::sqrt(squared);
  }
  const ComponentsOfVariance parts = components();
  for (std::size_t l = 0; l <= levels; ++l) {
    if (out[l].freedom == 0) continue;
    std::vector<MeanSquareTerm> terms;
    for (std::size_t j = l; j <= levels; ++j)
      if (parts.multiples[l][j] != 0.0)
        terms.push_back({parts.multiples[l][j], parts.mean_squares[j], parts.freedom[j]});
    out[l].interval = variance_interval(terms, 0.95);
  }
  return out;
}

ComponentsOfVariance NestedGroups::components() const {
  const std::size_t levels = units_.size(), values = levels;  // position of the single values
  ComponentsOfVariance out;
  for (std::size_t level = 0; level <= levels; ++level) {
    const std::size_t units = level < levels ? units_[level].size() : all_.count();
    const std::size_t outer = level == 0 ? 1 : units_[level - 1].size();
    out.freedom.push_back(static_cast<double>(units - outer));
  }
  // Of every unit of the level at hand: its unweighted mean, and what a unit variance of each deeper level adds to the
  // variance of that mean.
  std::vector<double> means;
  std::vector<std::vector<double>> adds;
  double squares = 0.0;
  for (std::size_t u = 0; levels > 0 && u < units_[levels - 1].size(); ++u) {
    const Moments& moments = units_[levels - 1][u].moments;
    means.push_back(moments.mean());
    adds.emplace_back(levels + 1, 0.0)[values] = 1.0 / static_cast<double>(moments.count());
    squares += moments.m2();
  }
  if (levels == 0) squares = all_.m2();
  std::vector<double>& mean_squares = out.mean_squares;
  mean_squares.assign(levels + 1, 0.0);
  if (out.freedom[values] > 0.0) mean_squares[values] = squares / out.freedom[values];
  // [level]: expectation of its mean square as multiples of the variances.
  std::vector<std::vector<double>> expected(levels + 1, std::vector<double>(levels + 1, 0.0));
  expected[values][values] = 1.0;
  for (std::size_t level = levels; level-- > 0;) {
    const std::size_t outer_units = level == 0 ? 1 : units_[level - 1].size();
    std::vector<double> count(outer_units, 0.0), sum(outer_units, 0.0);
    const auto outer_of = [&](std::size_t u) { return level == 0 ? 0 : units_[level][u].outer; };
    for (std::size_t u = 0; u < means.size(); ++u) {
      adds[u][level] = 1.0;
      count[outer_of(u)] += 1.0;
      sum[outer_of(u)] += means[u];
    }
    std::vector<std::vector<double>> outer_adds(outer_units, std::vector<double>(levels + 1, 0.0));
    const double freedom = out.freedom[level];
    for (std::size_t u = 0; u < means.size(); ++u) {
      const std::size_t o = outer_of(u);
      const double off = means[u] - sum[o] / count[o];
      if (freedom > 0.0) mean_squares[level] += off * off / freedom;
      for (std::size_t m = level; m <= values; ++m) {
        if (freedom > 0.0) expected[level][m] += (1.0 - 1.0 / count[o]) * adds[u][m] / freedom;
        outer_adds[o][m] += adds[u][m] / (count[o] * count[o]);
      }
    }
    for (std::size_t o = 0; o < outer_units; ++o) sum[o] /= count[o];
    means = std::move(sum);
    adds = std::move(outer_adds);
  }
  // Each variance as a sum of multiples of mean squares, solved from the innermost outwards.
  std::vector<std::vector<double>>& multiples = out.multiples;
  multiples.assign(levels + 1, std::vector<double>(levels + 1, 0.0));
  for (std::size_t level = levels + 1; level-- > 0;) {
    if (!(out.freedom[level] > 0.0)) continue;
    multiples[level][level] = 1.0;
    for (std::size_t m = level + 1; m <= values; ++m)
      for (std::size_t j = m; j <= values; ++j) multiples[level][j] -= expected[level][m] * multiples[m][j];
  }
  return out;
}

}  // namespace mintspread::statistics
