#include "engine/base/nearest.hpp"

#include <algorithm>
#include <cstddef>
#include <vector>

namespace mintspread {
namespace {

char small(char letter) { return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter; }

/// Optimal string alignment distance: each pair of letters is swapped at most once.
std::size_t edits(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = small(a[i - 1]) == small(b[j - 1]);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0 : 1)});
      if (i > 1 && j > 1 && small(a[i - 1]) == small(b[j - 2]) && small(a[i - 2]) == small(b[j - 1]))
        row[j] = std::min(row[j], before[j - 2] + 1);
    }
    std::swap(before, last);
    std::swap(last, row);
  }
  return last[b.size()];
}

}  // namespace

std::string_view nearest(std::string_view word, std::span<const std::string> known) {
  constexpr std::size_t longest = 200;  // the time grows with the product of the lengths; no key is that long
  std::string_view best;
  if (word.empty() || word.size() > longest) return best;
  std::size_t fewest = longest;
  for (const std::string& candidate : known) {
    if (candidate.size() > longest) continue;
    const std::size_t distance = edits(word, candidate);
    if (3 * distance <= std::max(word.size(), candidate.size()) && distance < fewest) {
      fewest = distance;
      best = candidate;
    }
  }
  return best;
}

}  // namespace mintspread
