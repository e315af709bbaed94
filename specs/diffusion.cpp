#include "specs/diffusion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "specs/check.hpp"
#include "specs/constant.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

using materials::DiffusionPair;

const QuantityRule factor_rule{.name = "factor",
                               .dimensions = {dimension::diffusion_coefficient},
                               .smallest = 0,
                               .largest = 1,
                               .smallest_excluded = true,
                               .why = "metals have factors of some 1e-7 to 1e-2 m2/s"};
const QuantityRule activation_rule{.name = "activation energy",
                                   .dimensions = {dimension::molar_energy},
                                   .smallest = 20e3,
                                   .largest = 1000e3,
                                   .why = "metals diffuse in each other by some 80 to 400 kJ/mol"};
const QuantityRule part_rule{.name = "part",
                             .dimensions = {dimension::pure},
                             .smallest = 0,
                             .largest = 1,
                             .why = "it lies between 0 and 100 % of the mass"};
const QuantityRule resistivity_rule{.name = "resistivity",
                                    .dimensions = {dimension::resistivity},
                                    .smallest = 1e-8,
                                    .largest = 5e-6,
                                    .why = "metals and their alloys lie between 1 and 500 uohm cm at 20 degC"};
const QuantityRule magnetic_rule{.name = "magnetic up to",
                                 .dimensions = {dimension::pure},
                                 .smallest = 0,
                                 .largest = 1,
                                 .smallest_excluded = true,
                                 .why = "it is a part of the mass; what is not magnetic at 20 degC has no such key"};
constexpr std::size_t fewest_rows = 4;  // of a monotone cubic

/// One entry of the list.
class PairReader {
 public:
  PairReader(const Node& node, const std::string& path, Context& context) : f_(node, path), context_(context) {}

  /// Nothing where it is refused.
  std::optional<DiffusionPair> read() {
    const std::size_t before = context_.findings.errors();
    if (!between()) return std::nullopt;
    pair_.in_quick = coefficient("first in second");
    pair_.in_slow = coefficient("second in first");
    rows();
    if (!complete_ || context_.findings.errors() > before) return std::nullopt;
    const auto first = magnetic("first magnetic up to"), second = magnetic("second magnetic up to");
    if (context_.findings.errors() > before) return std::nullopt;
    if (!in_order(first, second)) return std::nullopt;
    return pair_;
  }

 private:
  void error(const std::string& key, std::string what, std::string remedy) {
    const Node* node = f_[key];
    context_.findings.error(node ? node->at : f_.node().at, node ? f_.path(key) : f_.path(), std::move(what),
                            std::move(remedy));
  }

  bool between() {
    const Node* node = f_["between"];
    if (node == nullptr) return false;
    if (node->items.size() != 2) {
      error("between", fmt::format("two elements make a pair, but {} stand here", node->items.size()),
            "Write it like `between: [Ni, Cu]`.");
      return false;
    }
    for (std::size_t i = 0; i < 2; ++i) {
      const Node& item = node->items[i];
      if (item.refused) return false;
      const std::string element = single_blanks(item.text);
      if (!materials::molar_mass(element)) {
        context_.findings.error(item.at, f_.path("between"), fmt::format("`{}` is no element known here", element),
                                fmt::format("Known are {}.", fmt::join(materials::known_elements(), ", ")));
        return false;
      }
      (i == 0 ? pair_.slow : pair_.quick) = element;
    }
    if (pair_.slow == pair_.quick)
      error("between", fmt::format("{} stands here twice", pair_.slow), "Name the two elements of the pair.");
    return pair_.slow != pair_.quick;
  }

  std::optional<double> constant(const Fields& f, const char* key, const QuantityRule& rule) {
    const Node* node = f[key];
    const auto read = node ? read_constant(*node, rule, f.path(key), context_) : std::nullopt;
    return read ? std::optional(read->value) : std::nullopt;
  }

  materials::Arrhenius coefficient(const char* key) {
    const Node* node = f_[key];
    const Fields own(node ? *node : f_.node(), f_.path(key));
    const auto factor = constant(own, "factor", factor_rule),
               energy = constant(own, "activation energy", activation_rule);
    complete_ = complete_ && factor && energy;
    return {factor.value_or(1.0), energy.value_or(1.0)};
  }

  std::optional<double> magnetic(const char* key) {
    const auto mass = constant(f_, key, magnetic_rule);
    if (!mass) return std::nullopt;
    const bool of_first = std::string_view(key).starts_with("first");
    return of_first ? part_of_atoms(pair_, *mass) : 1.0 - part_of_atoms(pair_, 1.0 - *mass);
  }

  void rows() {
    const Node* node = f_["resistivity"];
    if (node == nullptr) {
      complete_ = false;
      return;
    }
    for (std::size_t i = 0; i < node->items.size(); ++i) {
      const Node& item = node->items[i];
      const Fields own(item, below(f_.path("resistivity"), std::to_string(i + 1)));
      const auto part = constant(own, "part", part_rule), value = constant(own, "resistivity", resistivity_rule);
      if (!part || !value) {
        complete_ = false;
        return;
      }
      if (!pair_.parts.empty() && *part <= pair_.parts.back())
        return context_.findings.error(
            item.at, own.path("part"),
            fmt::format("the rows go back, from {:.6g} % to {:.6g} %", pair_.parts.back() * 100, *part * 100),
            fmt::format("State them from 0 % to 100 % of {}.", pair_.quick));
      pair_.parts.push_back(*part);
      pair_.resistivities.push_back(*value);
    }
    if (pair_.parts.size() < fewest_rows)
      return error("resistivity", fmt::format("{} rows are too few for a curve between them", pair_.parts.size()),
                   fmt::format("State {} at least: 0 %, 100 %, and alloys between.", fewest_rows));
    if (pair_.parts.front() != 0.0 || pair_.parts.back() != 1.0)
      error("resistivity",
            fmt::format("the rows reach from {:.6g} % to {:.6g} % of {}, but the layers begin as the pure metals",
                        pair_.parts.front() * 100, pair_.parts.back() * 100, pair_.quick),
            "Add the rows for 0 % and 100 %.");
  }

  /// Turns the pair so that the first is the slow one, and checks what the method needs.
  bool in_order(std::optional<double> first_magnetic, std::optional<double> second_magnetic) {
    using materials::coldest_diffusion, materials::hottest_diffusion, materials::BlurredBoundary;
    constexpr double alike = 1e-9;
    const double cold = log_ratio(pair_, coldest_diffusion), hot = log_ratio(pair_, hottest_diffusion);
    const std::string first = pair_.slow, second = pair_.quick;
    const std::string range =
        fmt::format("{:.0f} to {:.0f} degC", coldest_diffusion - celsius_zero, hottest_diffusion - celsius_zero);
    if (std::min(cold, hot) < -alike && std::max(cold, hot) > alike) {
      const double same = (pair_.in_slow.activation - pair_.in_quick.activation) / gas_constant /
                          std::log(pair_.in_slow.factor / pair_.in_quick.factor);
      context_.findings.error(
          f_.node().at, f_.path(),
          fmt::format("{0} diffuses in {1} more {2} than {1} in {0} below {3:.0f} degC, and more {4} above: which of "
                      "the two is the slower has to be one from {5}",
                      first, second, cold < 0 ? "quickly" : "slowly", same - celsius_zero,
                      cold < 0 ? "slowly" : "quickly", range),
          "Where the two differ little, state the same factor and activation energy for both.");
      return false;
    }
    const bool turn = cold + hot > 0;
    if (turn) pair_ = turned(std::move(pair_));
    const double nearest = std::exp(std::max(-std::abs(cold), -std::abs(hot)));
    if (nearest < BlurredBoundary::least_ratio) {
      context_.findings.error(
          f_.node().at, f_.path(),
          fmt::format("{} diffuses in {} {:.2g} times as quickly as {} in {}, or more, from {}; up to {:.0f} times is "
                      "computed",
                      pair_.slow, pair_.quick, 1 / nearest, pair_.quick, pair_.slow, range,
                      1 / BlurredBoundary::least_ratio),
          "Check factors, activation energies and their units.");
      return false;
    }
    const char* const keys[] = {"first magnetic up to", "second magnetic up to"};
    const std::string other_ways =
        "State such a boundary as sealed (`sealed under`), or add its alloyed zone as a bath of its own.";
    if (first_magnetic && second_magnetic) {
      error(keys[1], "a boundary of two magnetic metals is not computed", other_ways);
      return false;
    }
    if ((turn ? first_magnetic : second_magnetic).has_value()) {
      error(keys[turn ? 0 : 1],
            fmt::format("{} is magnetic, and the metal in which the other diffuses more quickly; only the one in which "
                        "it is slower may be magnetic here",
                        pair_.quick),
            other_ways);
      return false;
    }
    pair_.magnetic_until = (turn ? second_magnetic : first_magnetic).value_or(0.0);
    if (pair_.magnetic_until > BlurredBoundary::most_magnetic) {
      error(keys[turn ? 1 : 0],
            fmt::format("{} stays magnetic up to {:.0f} % of the atoms being {}, so that the boundary itself would be "
                        "magnetic; up to {:.0f} % is computed",
                        pair_.slow, pair_.magnetic_until * 100, pair_.quick, BlurredBoundary::most_magnetic * 100),
            other_ways);
      return false;
    }
    return true;
  }

  Fields f_;
  Context& context_;
  bool complete_ = true;  ///< all that is needed stands; what does not is reported
  DiffusionPair pair_;    ///< first and second, until in_order()
};

}  // namespace

std::vector<DiffusionPair> read_diffusion(const Node& file, const std::set<std::string>& elements, Context& context) {
  std::vector<DiffusionPair> made;
  const Entry* list = file.find("diffusion");
  if (list == nullptr || list->value.refused || list->value.kind != Node::Kind::list) return made;
  for (std::size_t i = 0; i < list->value.items.size(); ++i) {
    const Node& item = list->value.items[i];
    if (item.refused || item.kind != Node::Kind::mapping) continue;
    const std::string path = below("materials.diffusion", std::to_string(i + 1));
    auto pair = PairReader(item, path, context).read();
    if (!pair) continue;
    const Node& named = item.find("between")->value;
    if (std::ranges::any_of(made, [&](const DiffusionPair& other) { return other.is_of(pair->slow, pair->quick); })) {
      context.findings.error(named.at, below(path, "between"),
                             fmt::format("the pair of {} and {} stands twice in this file", pair->slow, pair->quick),
                             "Keep one of them; a later materials file may replace it.");
      continue;
    }
    for (const std::string& element : {pair->slow, pair->quick})
      if (!elements.contains(element))
        context.findings.warning(named.at, below(path, "between"),
                                 fmt::format("no material of the handbook has {} in its composition", element),
                                 fmt::format("A layer takes part by `composition: {{{}: {{part: 100 %}}}}`.", element));
    made.push_back(std::move(*pair));
  }
  return made;
}

}  // namespace mintspread::specs
