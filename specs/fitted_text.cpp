#include "specs/fitted_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/base/contract.hpp"
#include "engine/sampling/law.hpp"

namespace mintspread::specs {

namespace {

/// Decimal places at which a thousandth of the spread still shows.
int places_for(double sd) { return std::clamp(static_cast<int>(std::ceil(3.0 - std::log10(sd))), 0, 15); }

struct Writer {
  double at;
  std::string unit;  ///< with a blank before it
  int places;

  std::string bare(double value) const {
    std::string text = fmt::format("{:.{}f}", value, places);
    if (places > 0) text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text == "-0" ? "0" : text;
  }
  std::string number(double value) const { return bare(value) + unit; }
  std::string range(double lower, double upper) const {
    return fmt::format("{} .. {}", bare(at + lower), number(at + upper));
  }
  std::string about(double below, double above) const {
    return fmt::format("{} +{}/-{}", number(at), bare(above), number(below));
  }

  std::string operator()(const sampling::Normal& s) const {
    return fmt::format("value: {}, sd: {}", number(at), number(s.sd));
  }
  std::string operator()(const sampling::TruncatedNormal& s) const {
    return fmt::format("value: {}, sd: {}, shape: truncated normal", about(-s.lower, s.upper), number(s.sd));
  }
  // A tolerance is three standard deviations.
  std::string operator()(const sampling::TwoPieceNormal& s) const {
    return fmt::format("value: {}, shape: two-piece normal", about(3 * s.sd_below, 3 * s.sd_above));
  }
  std::string operator()(const sampling::Lognormal& s) const {
    return fmt::format("value: {}, sd: {:.4g} %, shape: lognormal", number(at), 100 * s.log_sd);
  }
  std::string operator()(const sampling::Uniform& s) const {
    return fmt::format("value: {}, shape: uniform", range(s.lower, s.upper));
  }
  std::string operator()(const sampling::Triangular& s) const {
    const Writer mode{at + s.mode, unit, places};
    return fmt::format("value: {}, shape: triangular", mode.about(s.mode - s.lower, s.upper - s.mode));
  }
  std::string operator()(const sampling::Arcsine& s) const {
    return fmt::format("value: {}, shape: arcsine", range(s.lower, s.upper));
  }
  std::string operator()(const sampling::StudentT& s) const {
    return fmt::format("value: {}, sd: {}, shape: student t, degrees of freedom: {:.4g}", number(at), number(s.scale),
                       s.degrees_of_freedom);
  }
  std::string operator()(const sampling::CurvilinearTrapezoid& s) const {
    return fmt::format("value: {} +/- {}, shape: curvilinear trapezoid, edge: {}", number(at), number(s.half_width),
                       number(s.edge));
  }
  std::string operator()(const std::shared_ptr<const sampling::Mixture>& s) const {
    std::string parts;
    double left = 100.0;
    for (std::size_t i = 0; i < s->parts.size(); ++i) {
      const auto& part = s->parts[i];
      // The last weight makes up the rest, so that rounded ones still add up to 100 %.
      const double weight = i + 1 == s->parts.size() ? left : std::stod(fmt::format("{:.4g}", 100 * part.weight));
      left -= weight;
      parts += fmt::format("{}{{weight: {:.10g} %, {}}}", i ? ", " : "", weight,
                           std::visit(Writer{at + part.shift, unit, places}, part.shape));
    }
    return fmt::format("shape: mixture, parts: [{}]", parts);
  }
  std::string operator()(const sampling::Measured&) const { return unfit(); }
  std::string operator()(const std::shared_ptr<const sampling::Truncated>&) const { return unfit(); }
  static std::string unfit() {
    expect(false, "only shapes of few numbers are told in one line");
    return {};
  }
};

}  // namespace

std::string fitted_text(double at, const sampling::Shape& shape, const std::string& unit, const std::string& more) {
  const Writer writer{at, unit.empty() ? "" : " " + unit, places_for(sampling::law_of(shape)->sd())};
  return "{" + std::visit(writer, shape) + more + "}";
}

}  // namespace mintspread::specs
