#include "specs/gauge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "specs/check.hpp"
#include "specs/constant.hpp"
#include "specs/quantity.hpp"

namespace mintspread::specs {

namespace {

using Reads = Gauge::Reads;

constexpr std::array<std::string_view, 5> reads_names = {"layer thickness", "non-magnetic layers", "mass of an element",
                                                         "weight gain", "chord of a section"};
constexpr double steepest_section = 60.0 * pi / 180.0;

bool is_mass(Reads reads) { return reads == Reads::element_mass || reads == Reads::weight_gain; }

class GaugeReader {
 public:
  GaugeReader(const Node& root, Context& context) : fields_(root, "gauge"), context_(context) {}

  std::optional<Gauge> read() {
    const std::size_t before = context_.findings.errors();
    if (const Node* about = fields_["gauge"]) {
      const Fields f(*about, "gauge");
      gauge_.name = f.text("name");
      gauge_.note = f.text("note");
    }
    const auto reads = std::find(reads_names.begin(), reads_names.end(), fields_.text("reads"));
    if (reads == reads_names.end()) return std::nullopt;
    gauge_.reads = static_cast<Reads>(reads - reads_names.begin());
    gauge_.at = fields_.text("at");
    const std::string what = fields_.text("reads");
    const bool layer = gauge_.reads == Reads::layer_thickness || gauge_.reads == Reads::chord;
    gauge_.layer = word("layer", layer, "a gauge of " + what + " reads one layer");
    gauge_.element = word("element", gauge_.reads == Reads::element_mass, "a mass of an element is one of an element");
    only_for("pieces", Reads::weight_gain);
    only_for("tilt", Reads::chord);
    if (const Node* at = fields_["at"]; at && gauge_.reads == Reads::weight_gain)
      error(*at, "at", "a weight gain is of the whole piece, so `at` says nothing", "Leave it out.");
    if (const Node* pieces = fields_["pieces"]) {
      const auto count = count_text(pieces->text);
      if (const auto* number = std::get_if<std::size_t>(&count)) gauge_.pieces = *number;
    }
    read_range();
    read_errors();
    read_basis();
    read_tilt();
    if (context_.findings.errors() > before) return std::nullopt;
    return std::move(gauge_);
  }

 private:
  void error(const Node& node, const std::string& key, const std::string& what, const std::string& remedy,
             std::size_t byte = 0) {
    context_.findings.error(node.at_byte(byte), fields_.path(key), what, remedy);
  }
  std::string word(const std::string& key, bool needed, const std::string& why) {
    if (needed && !fields_.stands(key))
      context_.findings.error(fields_.node().at, fields_.path(key), fmt::format("`{}` is missing: {}", key, why),
                              fmt::format("Add `{}`.", key));
    if (!needed && fields_.stands(key))
      if (const Node* node = fields_[key])
        error(*node, key, fmt::format("a gauge of {} has no `{}`", fields_.text("reads"), key), "Leave it out.");
    return fields_.text(key);
  }
  void only_for(const std::string& key, Reads reads) {
    const Node* node = fields_[key];
    if (node != nullptr && gauge_.reads != reads)
      error(*node, key, fmt::format("a gauge of {} has no `{}`", fields_.text("reads"), key), "Leave it out.");
  }

  bool fits(const Dimension& found) const {
    return is_mass(gauge_.reads) ? found == dimension::mass || found == dimension::areal_mass
                                 : found == dimension::length;
  }
  std::string wanted() const { return is_mass(gauge_.reads) ? "a mass, or one for an area," : "a length"; }

  /// A number with a unit of what is read, or in per cent; its place for what is wrong with it.
  std::optional<QuantityText> text(const std::string& key, const Node& node) {
    const auto read = quantity_text(node.text);
    if (const auto* fault = std::get_if<TextFault>(&read)) {
      error(node, key, fault->what, fault->remedy, fault->at);
      return std::nullopt;
    }
    return std::get<QuantityText>(read);
  }
  /// The first unit met decides between a mass and a mass for an area.
  bool of_one_kind(const std::string& key, const Node& node, const WrittenNumber& number) {
    const Dimension& found = number.measured.dimension;
    if (fits(found) && (!known_ || found == gauge_.dimension)) {
      gauge_.dimension = found;
      known_ = true;
      return true;
    }
    error(node, key,
          number.has_unit ? fmt::format("{} stands here, where {} is wanted", name_of(found),
                                        known_ ? name_of(gauge_.dimension) : wanted())
                          : fmt::format("no unit stands after this number, but it is {}", wanted()),
          is_mass(gauge_.reads) ? "Write it like `120 mg` or `22 mg/cm2` throughout." : "Write it like `0.3 um`.",
          number.has_unit ? number.unit_at : number.at);
    return false;
  }

  void read_range() {
    const Node* node = fields_["range"];
    if (node == nullptr) return;
    auto q = text("range", *node);
    if (!q) return;
    if (q->spread != WrittenSpread::range || !q->level.empty() || !q->value)
      return error(*node, "range", "this is not a range", "Write `LOWER .. UPPER`.");
    if (!q->value->has_unit) q->value->measured = q->tolerance.measured, q->value->has_unit = q->tolerance.has_unit;
    if (!of_one_kind("range", *node, q->tolerance) || !of_one_kind("range", *node, *q->value)) return;
    const double lower = to_si(q->value->value, q->value->measured.unit);
    const double upper = to_si(q->tolerance.value, q->tolerance.measured.unit);
    if (!(lower < upper))
      return error(*node, "range", "the range begins where it ends or behind", "Write `LOWER .. UPPER`.");
    gauge_.range = {lower, upper};
  }

  std::optional<Stretch> number(const std::string& key, bool fraction_allowed) {
    const Node* node = fields_[key];
    if (node == nullptr) return std::nullopt;
    const auto q = text(key, *node);
    if (!q) return std::nullopt;
    if (!q->value || q->spread != WrittenSpread::none || !q->level.empty()) {
      error(*node, key, "only a single number with its unit can stand here", "");
      return std::nullopt;
    }
    const WrittenNumber& v = *q->value;
    if (v.has_unit && v.measured.unit.name == "%" && fraction_allowed) return Stretch{v.value / 100, true};
    if (!of_one_kind(key, *node, v)) return std::nullopt;
    return Stretch{v.value * v.measured.unit.scale, false};
  }
  void not_negative(const std::string& key, const Stretch& stretch) {
    if (stretch.size < 0) error(*fields_[key], key, "a standard deviation is not negative", "State it as 0 or more.");
  }

  void read_errors() {
    if (const auto bias = number("bias", true)) {
      (bias->relative ? gauge_.proportional_bias : gauge_.bias) = bias->size;
      if (bias->relative && !(bias->size > -1))
        error(*fields_["bias"], "bias", "a bias of -100 % or less leaves no reading", "");
    }
    if (const auto uncertainty = number("bias uncertainty", false)) {
      gauge_.bias_uncertainty = uncertainty->size;
      not_negative("bias uncertainty", *uncertainty);
    }
    read_bias_freedom();
    if (const auto repeatability = number("repeatability", true)) {
      gauge_.repeatability = *repeatability;
      not_negative("repeatability", *repeatability);
    }
    // Told in per cent throughout, a gauge says its kind by what it reads; of masses, the plain one.
    if (!known_) gauge_.dimension = is_mass(gauge_.reads) ? dimension::mass : dimension::length;
  }

  void read_bias_freedom() {
    const std::string key = "bias degrees of freedom";
    const Node* node = fields_[key];
    if (node == nullptr) return;
    const auto freedom = read_number(*node, fields_.path(key), context_);
    if (!freedom) return;
    if (!fields_.stands("bias uncertainty"))
      return error(*node, key, "these are of the bias's uncertainty, which is not stated", "Add `bias uncertainty`.");
    if (!(*freedom >= 1))
      return error(*node, key, "less than one degree of freedom tells no uncertainty",
                   "Of n readings of a standard they are n - 1.");
    gauge_.bias_freedom = *freedom;
  }

  /// Behind `measured`, `n=30` tells how many readings of one piece the repeatability rests on.
  void read_basis() {
    const Node* node = fields_["basis"];
    if (node == nullptr) return;
    const std::string text = single_blanks(node->text);
    const std::string word = text.substr(0, text.find_first_of(" ,"));
    if (std::find(basis_names.begin(), basis_names.end(), word) == basis_names.end())
      return error(*node, "basis", fmt::format("`{}` is no basis", word),
                   suggest(word, {basis_names.begin(), basis_names.end()}));
    const std::size_t stands = text.find(" n=");
    if (word != "measured" || stands == std::string::npos) return;
    const std::string count = text.substr(stands + 3, text.find_first_of(" ,", stands + 3) - stands - 3);
    const auto read = count_text(count);
    const auto* number = std::get_if<std::size_t>(&read);
    if (number == nullptr || *number < 2)
      return error(*node, "basis", "a repeatability rests on a whole number of readings, two at least",
                   "Write it like `measured n=30`.");
    gauge_.readings = *number;
  }

  /// A section off the normal by an angle shows a layer longer by 1 / cos.
  void read_tilt() {
    const Node* node = fields_["tilt"];
    if (node == nullptr || gauge_.reads != Reads::chord) return;
    const QuantityRule rule{.name = "tilt",
                            .dimensions = {dimension::angle},
                            .smallest = 0,
                            .largest = steepest_section,
                            .why = "a section is cut near the normal"};
    if (const auto tilt = read_constant(*node, rule, fields_.path("tilt"), context_))
      gauge_.proportional_bias = (1 + gauge_.proportional_bias) / std::cos(tilt->value) - 1;
  }

  Fields fields_;
  Context& context_;
  Gauge gauge_;
  bool known_ = false;
};

}  // namespace

double Gauge::repeatability_at(double value) const {
  return repeatability.relative ? repeatability.size * std::abs(value) : repeatability.size;
}

std::optional<Gauge> read_gauge(const Node& root, Context& context) {
  const std::size_t before = context.findings.errors();
  if (!check_file(root, FileKind::gauge, context)) return std::nullopt;
  auto gauge = GaugeReader(root, context).read();
  if (context.findings.errors() > before) return std::nullopt;
  expect(gauge.has_value(), "a gauge without a finding is read");
  return gauge;
}

Gauge read_gauge_file(const std::string& path, const FileReader& files) {
  Context context(files);
  const Source* source = context.open(path);
  const auto root = source ? parse_yaml(*source, context.findings) : std::nullopt;
  auto gauge = root ? read_gauge(*root, context) : std::nullopt;
  if (!gauge) throw RejectedSpecification(context.findings.sorted());
  return std::move(*gauge);
}

std::string told(const Gauge& gauge) {
  std::string out;
  switch (gauge.reads) {
    case Reads::layer_thickness:
      out = "the thickness of layer " + gauge.layer;
      break;
    case Reads::non_magnetic_layers:
      out = "the sum of the non-magnetic layers";
      break;
    case Reads::element_mass:
      out = "the mass of " + gauge.element;
      break;
    case Reads::weight_gain:
      out = gauge.pieces == 1 ? "the weight gain of a piece"
                              : fmt::format("the weight gain of {} pieces, told for one", gauge.pieces);
      break;
    case Reads::chord:
      out = fmt::format("the chord of layer {} in a section", gauge.layer);
      break;
  }
  return gauge.at.empty() ? out
                          : out + (gauge.at == "rim"         ? " on the rim"
                                   : gauge.at == "face mean" ? ", mean of the face"
                                                             : " at the face centre");
}

}  // namespace mintspread::specs
