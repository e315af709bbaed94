#include "reports/pairs.hpp"

#include <algorithm>

#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr std::size_t most_pairs = 3;

double rejected(const CriterionResult& criterion) { return 1.0 - criterion.accepted.value; }

// What the class rejects by criteria that belong to the pair, the strictest of them.
double strictness(const Result& result, const ChannelPair& pair) {
  double most = -1.0;
  const auto& criteria = result.windows[pair.set].criteria;
  for (std::size_t c = 0; c < criteria.size(); ++c) {
    if (belongs(result, pair, c)) most = std::max(most, rejected(criteria[c]));
  }
  return most;
}

void add(const Result& result, std::size_t across, std::size_t up, std::vector<ChannelPair>& pairs) {
  const auto same = [&](const ChannelPair& pair) {
    return std::minmax(pair.across, pair.up) == std::minmax(across, up);
  };
  if (across == up || pairs.size() >= most_pairs || std::any_of(pairs.begin(), pairs.end(), same)) return;
  ChannelPair best{across, up, 0};
  double most = -1.0;
  for (std::size_t w = 0; w < result.windows.size(); ++w) {
    const double here = strictness(result, {across, up, w});
    if (here <= most) continue;
    most = here;
    best.set = w;
  }
  if (most >= 0.0) pairs.push_back(best);
}

}  // namespace

bool belongs(const Result& result, const ChannelPair& pair, std::size_t criterion) {
  const auto& of = result.windows[pair.set].criteria[criterion];
  if (of.channel) return *of.channel == pair.across || *of.channel == pair.up;
  return std::any_of(result.joint->lines.begin(), result.joint->lines.end(), [&](const RelationLine& line) {
    return line.set == pair.set && line.criterion == criterion &&
           std::minmax(line.across, line.up) == std::minmax(pair.across, pair.up);
  });
}

std::vector<ChannelPair> told_pairs(const Result& result) {
  std::vector<ChannelPair> pairs;
  if (!result.joint || result.joint->sample.pieces.empty()) return pairs;
  for (const auto& line : result.joint->lines) add(result, line.across, line.up, pairs);
  std::vector<std::size_t> strict;
  for (const auto& subject : subjects(result)) {
    if (subject.channel != nullptr && subject.rejected > 0.0)
      strict.push_back(static_cast<std::size_t>(subject.channel - result.channels.data()));
  }
  if (strict.size() > 1) add(result, strict[0], strict[1], pairs);
  return pairs;
}

JudgedSample judged(const Result& result, const ChannelPair& pair) {
  const Sample& sample = result.joint->sample;
  enum class Verdict { accepted, here, beside };
  std::vector<Verdict> verdicts(sample.pieces.size(), Verdict::accepted);
  for (const auto& rejects : sample.rejects) {
    if (rejects.set != pair.set) continue;
    const bool here = belongs(result, pair, rejects.criterion);
    for (const auto position : rejects.positions) {
      if (verdicts[position] != Verdict::here) verdicts[position] = here ? Verdict::here : Verdict::beside;
    }
  }
  JudgedSample found;
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    if (verdicts[i] == Verdict::here) found.rejected_here.push_back(i);
    if (verdicts[i] == Verdict::beside) found.rejected_beside.push_back(i);
    // What other classes reject is over-represented after the fair pieces.
    if (verdicts[i] == Verdict::accepted && i < sample.fair) found.accepted.push_back(i);
  }
  return found;
}

}  // namespace mintspread::reports
