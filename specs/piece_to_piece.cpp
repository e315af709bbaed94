#include "specs/piece_to_piece.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>

#include "specs/constant.hpp"
#include "specs/number.hpp"
#include "specs/quantity.hpp"
#include "specs/spread.hpp"

namespace mintspread::specs {

namespace {

const QuantityRule piece_to_piece{.name = "piece to piece",
                                  .dimensions = {dimension::pure},
                                  .smallest = 0,
                                  .smallest_excluded = true,
                                  .why = "the factor on a thickness is positive",
                                  .subject = "factor on the thickness"};

/// Each surfacing adds an independent increment, so n of them leave each / sqrt(n); what they do not even out (shape
/// of the piece, its place) is independent of that: the squares add up.
std::optional<Constant> from_surfacings(const Fields& own, const QuantityRule& rule, Context& context) {
  const auto part = [&](const char* key, double otherwise, double largest) -> std::optional<double> {
    const Node* node = own[key];
    if (node == nullptr) return own.stands(key) ? std::nullopt : std::optional(otherwise);
    QuantityRule here = rule;
    here.largest = largest;
    here.why = "a coefficient of variation is not negative, nor so large";
    const auto read = read_constant(*node, here, own.path(key), context);
    return read ? std::optional(read->value) : std::nullopt;
  };
  const Node& node = *own["surfacings"];
  const auto count = read_number(node, own.path("surfacings"), context);
  const auto each = part("each", 1, 10), least = part("floor", 0, 1);
  if (!count || !each || !least) return std::nullopt;
  if (!(*count >= 1)) {
    context.findings.error(node.at, own.path("surfacings"), "a piece that is plated surfaces once at least",
                           "State how often a piece comes to the surface of the load.");
    return std::nullopt;
  }
  const double variation = std::sqrt(*each * *each / *count + *least * *least);
  if (variation <= 1) return Constant{variation, {}};
  context.findings.error(node.at, own.path("surfacings"),
                         fmt::format("so few surfacings leave a variation of {:.0f} %", variation * 100),
                         "State more of them, or what one of them varies by.");
  return std::nullopt;
}

void read_basis(const Node& node, const std::string& path, Context& context, study::Input& input) {
  // The long form of a quantity reads bases; a constant carries this one there.
  Node quantity;
  quantity.kind = Node::Kind::mapping;
  quantity.at = node.at;
  Node one;
  one.kind = Node::Kind::text;
  one.text = "1";
  one.at = node.at;
  quantity.entries = {{"value", node.at, one}, {"basis", node.at, node}};
  if (const auto read = read_quantity(quantity, piece_to_piece, path, "", context, path)) {
    input.basis = read->basis;
    input.basis_note = read->basis_note;
  }
}

}  // namespace

InputId read_piece_to_piece(const Fields& f, const std::string& step, Context& context) {
  const std::string path = f.path("piece to piece");
  const Node* node = f["piece to piece"];
  if (node == nullptr) {
    if (f.stands("piece to piece")) return {};
    return context.add(
        constant_input(piece_to_piece, path, step, 1, {}, "no variation from piece to piece, not stated"));
  }
  const bool long_form = node->kind == Node::Kind::mapping;
  const Fields own(*node, path);
  const bool surfacings = long_form && own.stands("surfacings");
  const Node* sd = surfacings ? own["surfacings"] : long_form ? own["sd"] : node;
  if (sd == nullptr) return {};
  if (!surfacings)
    for (const char* key : {"each", "floor"})
      if (long_form && own.stands(key))
        context.findings.error(own.node().find(key)->at, own.path(key),
                               fmt::format("`{}` says nothing without `surfacings`", key), "Leave it out.");
  const QuantityRule rule{.name = "a coefficient of variation",
                          .dimensions = {dimension::pure},
                          .smallest = 0,
                          .largest = 1,
                          .why = "it lies between 0 and 100 %"};
  const auto stated = surfacings ? from_surfacings(own, rule, context)
                                 : read_constant(*sd, rule, long_form ? own.path("sd") : path, context);
  if (!stated) return {};
  study::Input input = constant_input(piece_to_piece, path, step, 1, {}, "");
  const std::string shape = long_form && own.text("shape") == "lognormal" ? "lognormal" : "normal";
  if (stated->value > 0) {
    // A lognormal factor of coefficient of variation c has a logarithm of variance ln(1 + c^2).
    const double log_sd = std::sqrt(std::log1p(stated->value * stated->value));
    input.components.push_back({shape == "lognormal" ? sampling::Shape(sampling::Lognormal{1, log_sd})
                                                     : sampling::Shape(sampling::Normal{stated->value}),
                                true, study::piece_level});
  }
  const double beyond = 0.5 * std::erfc(1 / (stated->value * std::sqrt(2.0)));
  if (shape == "normal" && stated->value > 0 && beyond >= 1e-6)
    context.findings.warning(
        sd->at, path,
        fmt::format("about {} % of the pieces would have a negative thickness and are not computed",
                    short_number(beyond * 100, 2)),
        "State `{sd: ..., shape: lognormal}`.");
  input.understood =
      fmt::format("factor on the thickness: {}, coefficient of variation {} %, piece to piece, not sorted", shape,
                  short_number(stated->value * 100, 6));
  if (surfacings) input.understood += fmt::format(", from {} surfacings", own.text("surfacings"));
  if (stated->value == 0) input.understood = "no variation from piece to piece";
  if (const Node* basis = long_form ? own["basis"] : nullptr) read_basis(*basis, own.path("basis"), context, input);
  return context.add(std::move(input));
}

}  // namespace mintspread::specs
