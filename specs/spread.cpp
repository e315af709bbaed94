#include "specs/spread.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <memory>

#include "engine/base/contract.hpp"

namespace mintspread::specs {

namespace {

using sampling::Shape;

/// How many standard deviations the tolerance is, and in words.
struct Reach {
  double sds;
  std::string words;
};

class Interpreter {
 public:
  Interpreter(const SpreadStatement& statement, const std::function<std::string(double)>& tell)
      : s_(statement), tell_(tell) {}

  std::optional<SpreadReading> read() {
    const std::string shape = shape_in_force();
    if (shape.empty()) return std::nullopt;
    only_where_used(shape);
    SpreadReading out = shaped(shape);
    if (s_.sorted) cut(out, shape);
    return out;
  }

 private:
  [[noreturn]] static void fault(std::string key, std::string what, std::string remedy = {}) {
    throw StatementFault{std::move(key), std::move(what), std::move(remedy)};
  }

  std::string shape_in_force() const {
    if ((s_.coverage || s_.capability) && !s_.tolerance)
      fault(s_.coverage ? "coverage" : "capability", "there is no tolerance that this could be about",
            "State a tolerance, `+/-`, or `sd`.");
    if (s_.sorted && !s_.tolerance) fault("sorted", "there are no limits to sort by", "State a tolerance.");
    if (!s_.shape.empty()) return s_.shape;
    if (s_.tolerance && s_.range) {
      if (s_.sd || s_.coverage || s_.capability)
        fault(s_.sd         ? "sd"
              : s_.coverage ? "coverage"
                            : "capability",
              "a range is uniform between its limits and has no other standard deviation",
              "State `shape: normal` if the range is a tolerance.");
      return "uniform";
    }
    if (s_.tolerance && !s_.tolerance->symmetric() && !s_.sd) return "two-piece normal";
    if (s_.tolerance || s_.sd) return "normal";
    return {};
  }

  /// Keys that say nothing about a shape are refused rather than passed over.
  void only_where_used(const std::string& shape) const {
    const bool has_sd =
        shape == "normal" || shape == "truncated normal" || shape == "lognormal" || shape == "student t";
    const bool from_tolerance =
        shape == "normal" || shape == "truncated normal" || shape == "lognormal" || shape == "two-piece normal";
    if (s_.sd && shape == "two-piece normal")
      fault("sd", "a two-piece normal has two standard deviations, one a side",
            "Leave `sd` out, or state `shape: normal`.");
    if (s_.sd && !has_sd)
      fault("sd", "a " + shape + " is given by its limits and has no stated standard deviation", "Leave `sd` out.");
    if ((s_.coverage || s_.capability) && !from_tolerance)
      fault(s_.coverage ? "coverage" : "capability",
            "this sets a standard deviation, but a " + shape + " has none to set", "Leave it out.");
    if (int(s_.sd.has_value()) + int(s_.coverage.has_value()) + int(s_.capability.has_value()) > 1)
      fault(s_.capability ? "capability" : "coverage",
            "more than one of `sd`, `coverage` and `capability` stand, and each sets the standard deviation",
            "Keep one of them.");
    if (s_.degrees_of_freedom && shape != "student t")
      fault("degrees of freedom", "a " + shape + " has no degrees of freedom", "Leave them out.");
    if (s_.edge && shape != "curvilinear trapezoid") fault("edge", "a " + shape + " has no edge", "Leave it out.");
  }

  const Tolerance& limits(const std::string& shape) const {
    if (!s_.tolerance) fault("shape", "a " + shape + " needs limits", "State a tolerance or a range in `value`.");
    return *s_.tolerance;
  }
  double symmetric(const std::string& shape) const {
    const Tolerance& t = limits(shape);
    // Ends of a range differ in the last digit when halved.
    if (!t.symmetric() && std::abs(t.below - t.above) > 1e-12 * (t.below + t.above))
      fault("shape", "the limits lie at different distances from the value, but a " + shape + " has equal sides",
            "Use `two-piece normal`, `triangular` or `uniform`, or state `sd`.");
    return t.above;
  }

  Reach reach() const {
    if (s_.coverage) {
      if (!(*s_.coverage > 0 && *s_.coverage < 1))
        fault("coverage", "the part within the tolerance lies between 0 and 100 %, both excluded");
      const double z = boost::math::quantile(boost::math::normal(), 0.5 + 0.5 * *s_.coverage);
      return {z, short_number(*s_.coverage * 100, 6) + " % within the tolerance"};
    }
    if (s_.capability) {
      if (!(*s_.capability > 0)) fault("capability", "a capability index is larger than 0");
      return {3 * *s_.capability, "Cp " + short_number(*s_.capability, 6)};
    }
    return {3, "3 sd = tolerance"};
  }

  std::string told(double size, bool relative) const {
    if (!relative) return tell_(size);
    return fmt::format("{} % ({})", short_number(size * 100, 3), tell_(size * std::abs(s_.nominal)));
  }

  SpreadReading shaped(const std::string& shape) const {
    if (shape == "normal" || shape == "truncated normal") return normal(shape);
    if (shape == "lognormal") return lognormal();
    if (shape == "student t") return student();
    const Tolerance& t = limits(shape);
    if (shape == "two-piece normal") {
      const Reach r = reach();
      const double below = t.below / r.sds, above = t.above / r.sds;
      return {sampling::TwoPieceNormal{below, above}, t.relative, false,
              fmt::format("two-piece normal, {} on each side, sd {} below and {} above", r.words,
                          told(below, t.relative), told(above, t.relative))};
    }
    if (shape == "uniform")
      return {sampling::Uniform{-t.below, t.above}, t.relative, false, "uniform between the limits"};
    if (shape == "arcsine")
      return {sampling::Arcsine{-t.below, t.above}, t.relative, false, "arcsine between the limits"};
    if (shape == "triangular")
      return {sampling::Triangular{-t.below, 0, t.above}, t.relative, false,
              "triangular between the limits, mode at the value"};
    expect(shape == "curvilinear trapezoid", "every shape of the grammar is read");
    return trapezoid();
  }

  SpreadReading normal(const std::string& shape) const {
    double sd = 0;
    bool relative = false;
    std::string words;
    if (s_.sd) {
      sd = s_.sd->size;
      relative = s_.sd->relative;
      words = "sd as stated, " + told(sd, relative);
      if (!(sd > 0)) fault("sd", "a standard deviation is larger than 0");
    } else {
      if (!s_.tolerance)
        fault("shape", "a " + shape + " needs a tolerance or `sd`", "State `+/-` in `value`, or `sd`.");
      const double half = symmetric(shape);
      const Reach r = reach();
      sd = half / r.sds;
      relative = s_.tolerance->relative;
      words = r.words + ", sd " + told(sd, relative);
    }
    if (shape == "normal") return {sampling::Normal{sd}, relative, false, "normal, " + words};
    SpreadReading out{sampling::Normal{sd}, relative, false, "normal, " + words};
    limits(shape);
    if (!s_.sorted) cut(out, shape);
    return out;
  }

  SpreadReading lognormal() const {
    if (!(s_.nominal > 0)) fault("shape", "a lognormal has a median above 0");
    double log_sd = 0;
    std::string words;
    if (s_.sd) {
      if (!s_.sd->relative)
        fault("sd", "the standard deviation of a lognormal is one of the logarithm", "State it in `%`.");
      log_sd = s_.sd->size;
      if (!(log_sd > 0)) fault("sd", "a standard deviation is larger than 0");
      words = "sd of the logarithm as stated";
    } else {
      const Tolerance& t = limits("lognormal");
      const double scale = t.relative ? 1 : s_.nominal;
      if (!(t.below < scale)) fault("value", "the lower limit must be above 0 for a lognormal");
      const Reach r = reach();
      log_sd = 0.5 * std::log((scale + t.above) / (scale - t.below)) / r.sds;
      words = r.words + " in the logarithm";
    }
    return {sampling::Lognormal{1, log_sd}, true, false,
            fmt::format("lognormal, {}, sd {} % of the median", words, short_number(log_sd * 100, 3))};
  }

  SpreadReading student() const {
    if (!s_.degrees_of_freedom) fault("shape", "student t needs `degrees of freedom`");
    if (!(*s_.degrees_of_freedom > 2))
      fault("degrees of freedom", "with 2 degrees of freedom or fewer the spread has no standard deviation",
            "State more than 2.");
    if (!s_.sd) fault("shape", "student t needs `sd`, which is its scale");
    if (!(s_.sd->size > 0)) fault("sd", "a standard deviation is larger than 0");
    const double n = *s_.degrees_of_freedom;
    return {
        sampling::StudentT{s_.sd->size, n}, s_.sd->relative, false,
        fmt::format("student t, {} degrees of freedom, scale {}, sd {}", short_number(n, 6),
                    told(s_.sd->size, s_.sd->relative), told(s_.sd->size * std::sqrt(n / (n - 2)), s_.sd->relative))};
  }

  SpreadReading trapezoid() const {
    const double half = symmetric("curvilinear trapezoid");
    if (!s_.edge) fault("shape", "a curvilinear trapezoid needs `edge`: how well its limits are known");
    const bool relative = s_.tolerance->relative;
    double edge = s_.edge->size;
    if (s_.edge->relative && !relative) edge *= std::abs(s_.nominal);
    if (!s_.edge->relative && relative) edge /= std::abs(s_.nominal);
    if (!(edge > 0) || !(edge < half)) fault("edge", "the edge lies between 0 and the tolerance, both excluded");
    return {sampling::CurvilinearTrapezoid{half, edge}, relative, false,
            "curvilinear trapezoid, limits known to " + told(edge, relative)};
  }

  /// Cuts at the limits, which a shape in per cent has in per cent.
  void cut(SpreadReading& out, const std::string& shape) const {
    const bool inside = shape == "uniform" || shape == "arcsine" || shape == "triangular";
    if (inside) return;
    double lower = -s_.tolerance->below, upper = s_.tolerance->above;
    const double nominal = std::abs(s_.nominal);
    if (out.relative && !s_.tolerance->relative) lower /= nominal, upper /= nominal;
    if (!out.relative && s_.tolerance->relative) lower *= nominal, upper *= nominal;
    if (const auto* normal = std::get_if<sampling::Normal>(&out.deviation))
      out.deviation = sampling::TruncatedNormal{normal->sd, lower, upper};
    else
      out.deviation = std::make_shared<const sampling::Truncated>(sampling::Truncated{out.deviation, lower, upper});
    out.cut = true;
    if (shape == "truncated normal" && !s_.sorted) out.words += ", cut at the limits";
  }

  const SpreadStatement& s_;
  const std::function<std::string(double)>& tell_;
};

}  // namespace

std::variant<std::optional<SpreadReading>, StatementFault> read_spread(const SpreadStatement& statement,
                                                                       const std::function<std::string(double)>& tell) {
  try {
    return Interpreter(statement, tell).read();
  } catch (const StatementFault& fault) {
    return fault;
  }
}

std::string short_number(double value, int digits) { return fmt::format("{:.{}g}", value, digits); }

}  // namespace mintspread::specs
