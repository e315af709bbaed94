#include "engine/measured/observations.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/base/contract.hpp"
#include "engine/statistics/moments.hpp"

namespace mintspread::measured {

namespace {

std::size_t distinct(const std::vector<double>& sorted) {
  std::size_t count = 1;
  for (std::size_t i = 1; i < sorted.size(); ++i) count += sorted[i] != sorted[i - 1] ? 1u : 0u;
  return count;
}

void one_by_one(const std::vector<double>& sorted, double step, Observations& out) {
  for (double value : sorted)
    if (!out.cells.empty() && out.cells.back().value == value)
      ++out.cells.back().count;
    else
      out.cells.push_back({value - 0.5 * step, value + 0.5 * step, value, 1});
}

void in_bins(const std::vector<double>& sorted, double step, Observations& out) {
  const std::size_t n = sorted.size();
  const double quartiles = sorted[n - 1 - n / 4] - sorted[n / 4];
  double width = (quartiles > 0.0 ? quartiles : out.sd) / 100.0;
  if (step > 0.0) width = step * std::max(1.0, std::round(width / step));
  const double origin = sorted.front() - 0.5 * (step > 0.0 ? step : width);
  double last = -1.0;
  for (double value : sorted) {
    const double bin = std::floor((value - origin) / width);
    if (bin == last) {
      ++out.cells.back().count;
      continue;
    }
    last = bin;
    out.cells.push_back({origin + bin * width, origin + (bin + 1.0) * width, origin + (bin + 0.5) * width, 1});
  }
  out.binned = true;
}

}  // namespace

Observations observe(std::vector<double> values, double step, const std::vector<Censored>& censored,
                     std::size_t most_cells) {
  expect(!values.empty() && step >= 0.0, "there are readings");
  std::sort(values.begin(), values.end());
  statistics::Moments moments;
  moments.add(values);
  Observations out;
  out.values = values.size();
  out.count = values.size() + censored.size();
  out.mean = moments.mean(), out.sd = moments.sd(), out.skewness = moments.skewness();
  out.smallest = values.front(), out.largest = values.back();
  out.median = 0.5 * (values[(values.size() - 1) / 2] + values[values.size() / 2]);
  out.step = step < 1e-3 * out.sd ? 0.0 : step;
  if (distinct(values) > most_cells)
    in_bins(values, out.step, out);
  else
    one_by_one(values, out.step, out);
  constexpr double infinity = std::numeric_limits<double>::infinity();
  for (const Censored& one : censored) {
    const Cell cell{one.below ? -infinity : one.limit, one.below ? one.limit : infinity, one.limit, 1};
    const auto same = std::find_if(out.censored.begin(), out.censored.end(), [&](const Cell& known) {
      return known.lower == cell.lower && known.upper == cell.upper;
    });
    if (same != out.censored.end())
      ++same->count;
    else
      out.censored.push_back(cell);
  }
  std::sort(out.censored.begin(), out.censored.end(),
            [](const Cell& a, const Cell& b) { return std::pair(a.lower, a.upper) < std::pair(b.lower, b.upper); });
  return out;
}

}  // namespace mintspread::measured
