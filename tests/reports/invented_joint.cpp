#include "tests/reports/invented_joint.hpp"

#include <cmath>
#include <cstdint>
#include <vector>

namespace mintspread::reports_tests {

namespace {

using namespace study;

// Sum of twelve uniforms less six: nearly normal, and the same on every machine.
class Deviates {
 public:
  double next() {
    double sum = -6.0;
    for (int i = 0; i < 12; ++i) {
      state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
      sum += static_cast<double>(state_ >> 40) / 16777216.0;
    }
    return sum;
  }

 private:
  std::uint64_t state_ = 2026;
};

double rounded(double value) { return std::round(1000.0 * value) / 1000.0; }

double value_of(const Result& result, const CriterionResult& criterion, const Sample& sample, std::size_t piece) {
  if (criterion.channel) return sample.readings[*criterion.channel][piece];
  return result.channels.empty() ? 0.0 : sample.readings[0][piece] / sample.readings[1][piece];
}

}  // namespace

JointResult invented_joint(const Result& result) {
  constexpr std::size_t fair = 60, all = 90;
  JointResult joint;
  joint.method = "Fisher's z, normal theory";
  Deviates deviates;
  Sample& sample = joint.sample;
  sample.fair = fair;
  sample.readings.resize(result.channels.size());
  for (std::size_t i = 0; i < all; ++i) {
    sample.pieces.push_back(i < fair ? i : 1000 + 37 * (i - fair));
    const double shared = deviates.next() * (i < fair ? 1.0 : 3.2);
    for (std::size_t c = 0; c < result.channels.size(); ++c) {
      const Spread& spread = result.channels[c].reading;
      double z = c < 2 ? 0.8 * shared + 0.6 * deviates.next() : deviates.next();
      if (c == 5 && i % 30 == 29) z = 4.0;  // a few that the gauge's window rejects
      sample.readings[c].push_back(rounded(spread.mean.value + spread.sd.value * z));
    }
  }
  for (std::size_t set = 0; set < result.windows.size(); ++set) {
    const auto& criteria = result.windows[set].criteria;
    for (std::size_t c = 0; c < criteria.size(); ++c) {
      SampleRejects rejects{set, c, {}};
      for (std::size_t i = 0; i < all; ++i) {
        const double value = value_of(result, criteria[c], sample, i);
        if (!(value >= criteria[c].lower && value <= criteria[c].upper)) rejects.positions.push_back(i);
      }
      if (!criteria[c].channel) {
        for (const double limit : {criteria[c].lower, criteria[c].upper}) {
          RelationLine line{set, c, 0, 1, limit, {}, {}};
          for (double x = 380.0; x <= 480.0; x += 10.0) {
            line.x.push_back(x);
            line.y.push_back(rounded(x / limit));
          }
          joint.lines.push_back(line);
        }
      }
      if (!rejects.positions.empty()) sample.rejects.push_back(rejects);
    }
  }
  for (std::size_t first = 0; first < result.channels.size(); ++first) {
    for (std::size_t second = first + 1; second < result.channels.size(); ++second) {
      const double r = first == 0 && second == 1 ? 0.64 : 0.01 * static_cast<double>(second) - 0.02;
      joint.correlations.push_back({first, second, {rounded(r), Interval{rounded(r - 0.002), rounded(r + 0.002)}, {}}});
    }
  }
  return joint;
}

}  // namespace mintspread::reports_tests
