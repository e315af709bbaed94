#include "specs/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "specs/quantity_data.hpp"
#include "specs/quantity_drift.hpp"
#include "specs/quantity_varies.hpp"
#include "specs/statement.hpp"

namespace mintspread::specs {

namespace {

constexpr double rare = 1e-6;

class QuantityReader {
 public:
  QuantityReader(const Node& node, const QuantityRule& rule, const std::string& path, const std::string& step,
                 Context& context, const std::string& reported)
      : node_(node), rule_(rule), context_(context), reader_(rule, reported, context), fields_(node, reported) {
    input_.path = path;
    input_.step = step;
    input_.name = rule.name;
    input_.smallest = rule.smallest;
    input_.largest = rule.largest;
  }

  std::optional<study::Input> read() {
    const std::size_t before = context_.findings.errors();
    const Fields* fields = node_.kind == Node::Kind::mapping ? &fields_ : nullptr;
    const Node* value_node = fields ? fields_["value"] : &node_;
    if (fields && fields_.stands("value") && !value_node) return std::nullopt;
    if (value_node && !read_value(*value_node)) return std::nullopt;
    if (fields && !read_belief()) return std::nullopt;
    if (fields && !read_data()) return std::nullopt;
    if (!stated_ && !data_) {
      if (!stated_by_sd(fields)) return std::nullopt;
    }
    if (!read_main(fields, value_node)) return std::nullopt;
    if (fields && !read_further()) return std::nullopt;
    if (fields && !read_basis()) return std::nullopt;
    if (!sorted_soundly(fields)) return std::nullopt;
    if (context_.findings.errors() > before) return std::nullopt;
    if (!possible(value_node ? *value_node : node_)) return std::nullopt;
    warn_of_tails(value_node ? *value_node : node_);
    finish();
    return std::move(input_);
  }

 private:
  bool read_value(const Node& node) {
    stated_ = reader_.value(node);
    if (!stated_) return false;
    head_ = stated_->head;
    return true;
  }

  /// `known to`, with or without a best guess.
  bool read_belief() {
    const Node* node = fields_["known to"];
    if (node == nullptr) return !fields_.stands("known to");
    const auto range = reader_.range(*node);
    if (!range) return false;
    const double lower = range->nominal - range->tolerance->below, upper = range->nominal + range->tolerance->above;
    if (stated_ &&
        (stated_->unit.dimension != range->unit.dimension || stated_->nominal < lower || stated_->nominal > upper)) {
      reader_.error(
          node->at, "known to",
          fmt::format("the value {} lies outside of what is known", told(stated_->nominal, stated_->unit.unit)),
          "The value is the best guess within the range.");
      return false;
    }
    input_.known_to = study::KnownTo{lower, upper};
    belief_words_ = fmt::format("known to lie in {}, uniform belief, fixed in the plant", range->head);
    if (!stated_) {
      stated_ = range;
      stated_->tolerance.reset();
      stated_->range = false;
    }
    return true;
  }

  bool read_data() {
    const Node *data = fields_["data"], *parts = fields_["parts"];
    if (!data && !parts) return !fields_.stands("data") && !fields_.stands("parts");
    const char* key = data ? "data" : "parts";
    const std::string shape = fields_.text("shape"), own = data ? "measured" : "mixture";
    for (const char* other : {"sd", "coverage", "capability", "degrees of freedom", "edge", "known to", "drift"})
      if (fields_.stands(other)) {
        reader_.error(fields_.node().find(other)->at, other,
                      fmt::format("`{}` says nothing beside `{}`, which gives the whole distribution", other, key),
                      "Leave it out.");
        return false;
      }
    if (data && parts) {
      reader_.error(fields_.node().find("parts")->at, "parts",
                    "both `data` and `parts` stand, and each gives the whole distribution", "Keep one of them.");
      return false;
    }
    if (!shape.empty() && shape != own) {
      reader_.error(fields_["shape"]->at, "shape", fmt::format("`{}` makes the shape `{}`", key, own),
                    "Leave `shape` out.");
      return false;
    }
    data_ = data ? read_measured(*data, stated_, reader_) : read_mixture(*parts, stated_, reader_);
    return data_.has_value();
  }

  /// Noise states its standard deviation only: the value is zero.
  bool stated_by_sd(const Fields* fields) {
    const Node* sd = fields ? fields_["sd"] : nullptr;
    if (!rule_.deviation_only || sd == nullptr) {
      if (fields && fields_.stands("sd") && rule_.deviation_only) return false;
      reader_.error(node_.at, "", "the quantity has no value", "State `value`, `known to` or `data`.");
      return false;
    }
    stated_ = reader_.value(*sd);
    if (!stated_) return false;
    head_ = told(0, stated_->unit.unit);
    stated_->nominal = 0;
    return true;
  }

  bool read_main(const Fields* fields, const Node* value_node) {
    input_.unit = stated_ ? stated_->unit.unit : data_->unit.unit;
    input_.nominal = data_ ? data_->nominal : stated_->nominal;
    if (stated_ && stated_->tolerance) {
      const double scale = stated_->tolerance->relative ? stated_->nominal : 1;
      input_.tolerance = {stated_->nominal - stated_->tolerance->below * scale,
                          stated_->nominal + stated_->tolerance->above * scale};
    }
    if (data_) return read_data_component();
    auto statement = reader_.statement(fields, *stated_);
    if (!statement) return false;
    for (const auto& [shape, key] : {std::pair{"measured", "data"}, {"mixture", "parts"}})
      if (statement->shape == shape) {
        reader_.error(fields_["shape"]->at, "shape", fmt::format("a {} distribution needs `{}`", shape, key), "");
        return false;
      }
    const bool bare = !statement->tolerance && !statement->sd && statement->shape.empty();
    if (rule_.deviation_only && bare && input_.nominal != 0) {
      // A bare number is the standard deviation of a value that is zero by nature.
      if (!(input_.nominal > 0)) {
        reader_.error(value_node->at, "", "a standard deviation is larger than 0", "");
        return false;
      }
      statement->sd = Stretch{input_.nominal, false};
      statement->nominal = input_.nominal = 0;
    }
    sorted_ = statement->sorted;
    // A drift that states no shape is even: a saw-tooth is uniform.
    if (fields && fields_.stands("drift") && statement->shape.empty() && statement->tolerance && !statement->sd &&
        !statement->coverage && !statement->capability)
      statement->shape = "uniform";
    const auto spread = read_spread(*statement, [&](double size) { return told_spread(size, input_.unit); });
    if (const auto* fault = std::get_if<StatementFault>(&spread)) {
      reader_.error(fields, value_node ? *value_node : node_, *fault);
      return false;
    }
    const auto& found = std::get<std::optional<SpreadReading>>(spread);
    const auto level = main_level(found.has_value());
    if (!level) return false;
    if (found) words_.push_back(found->words);
    std::optional<study::Drift> drift;
    if (fields && fields_.stands("drift")) {
      const Node* node = fields_["drift"];
      const auto read = node ? read_drift(*node, found.has_value(), *level, reader_) : std::nullopt;
      if (!read) return false;
      drift = read->drift;
      words_.back() += read->words;
    }
    if (!found) return true;
    cut_ = found->cut || statement->shape == "truncated normal";
    input_.components.push_back({found->deviation, found->relative, *level, drift});
    return true;
  }

  bool read_data_component() {
    const auto level = main_level(true);
    if (!level) return false;
    sorted_ = fields_.text("sorted") == "true";
    sampling::Shape shape = data_->deviation;
    if (sorted_) {
      if (!input_.tolerance.bounded()) {
        reader_.error(fields_["sorted"]->at, "sorted", "there are no limits to sort by",
                      "State a tolerance in `value`.");
        return false;
      }
      if (std::holds_alternative<sampling::Measured>(shape) && data_->between < 2) {
        reader_.error(fields_["sorted"]->at, "sorted", "no measured values are left within the tolerance", "");
        return false;
      }
      shape = std::make_shared<const sampling::Truncated>(
          sampling::Truncated{shape, input_.tolerance.lower - input_.nominal, input_.tolerance.upper - input_.nominal});
      cut_ = true;
    }
    head_ = stated_ ? fmt::format("{}, {}", stated_->head, data_->head) : data_->head;
    words_.push_back(data_->words);
    input_.components.push_back({std::move(shape), false, *level});
    if (!data_->note.empty()) {
      input_.basis = study::Basis::measured;
      input_.basis_note = data_->note;
    }
    return true;
  }

  /// Level of the main component. Stated levels without a spread mean a tolerance was forgotten.
  std::optional<std::size_t> main_level(bool spread) {
    const Node* per = node_.kind == Node::Kind::mapping ? fields_["per"] : nullptr;
    const bool in_value = stated_ && !stated_->level.empty();
    if (per && in_value) {
      reader_.error(per->at, "per", "the level of variation stands in `value` already", "Keep one of them.");
      return std::nullopt;
    }
    if (!per && !in_value) return rule_.level;
    const At at = in_value ? stated_->level_at : per->at;
    const std::string name = in_value ? stated_->level : single_blanks(per->text);
    if (!spread) {
      reader_.error(at, in_value ? "" : "per",
                    fmt::format("the value is said to vary per {}, but not by how much", name),
                    "State a tolerance, `+/-`, or leave `per` out.");
      return std::nullopt;
    }
    return context_.level(name, at, reader_.path());
  }

  bool read_further() {
    const Node* node = fields_["varies"];
    if (node == nullptr) return !fields_.stands("varies");
    auto read = read_varies(*node, input_.nominal, stated_ ? stated_->unit : data_->unit, reader_);
    if (!read) return false;
    further_ = read->size();
    for (FurtherComponent& one : *read) {
      words_.push_back(fmt::format("and {}, {}", one.words, level_words(one.component.level)));
      input_.components.push_back(std::move(one.component));
    }
    return true;
  }

  bool read_basis() {
    const Node* node = fields_["basis"];
    if (node == nullptr) return !fields_.stands("basis");
    const std::string text = single_blanks(node->text);
    const std::string word = text.substr(0, text.find_first_of(" ,"));
    const auto found = std::find(basis_names.begin(), basis_names.end(), word);
    if (found == basis_names.end()) {
      reader_.error(node->at, "basis", fmt::format("`{}` is no basis", word),
                    suggest(word, {basis_names.begin(), basis_names.end()}));
      return false;
    }
    input_.basis = static_cast<study::Basis>(1 + found - basis_names.begin());
    const std::size_t rest = text.find_first_not_of(" ,", word.size());
    const std::string note = rest == std::string::npos ? "" : text.substr(rest);
    if (!note.empty())
      input_.basis_note = input_.basis_note.empty() ? note : fmt::format("{}; {}", input_.basis_note, note);
    return true;
  }

  /// A gauge sorts by the whole value. One component about a known centre can be cut; a sum cannot.
  bool sorted_soundly(const Fields* fields) {
    if (!cut_ && !sorted_) return true;
    const bool known = !input_.known_to;
    if (known && further_ == 0) return true;
    const char* key = fields && fields->stands("sorted") ? "sorted" : "shape";
    reader_.error(fields ? fields->node().find(key)->value.at : node_.at, key,
                  known ? "a gauge sorts by the whole value, but this spread is one of several that add up"
                        : "a gauge sorts by fixed limits, but the centre they would be told from is not known",
                  known ? "State the spread that is left after sorting as one component."
                        : "Leave `sorted` out, or state the value.");
    return false;
  }

  std::string level_words(std::size_t level) const {
    return fmt::format("{0} to {0}", context_.model.groups[level].name);
  }

  /// What the grammar cannot see: numbers that leave the range of a double, limits that hold nothing of a shape.
  bool possible(const Node& at) {
    for (const study::Component& component : input_.components)
      if (const std::string flaw = sampling::flaw_of(component.deviation); !flaw.empty()) {
        reader_.error(at.at, "", flaw, "");
        return false;
      }
    return true;
  }

  /// Warns where noticeably many draws would lie beyond a physical bound, since they are pieces that cannot be made.
  void warn_of_tails(const Node& at) {
    if (input_.known_to || input_.components.size() != 1) return;
    const study::Component& component = input_.components[0];
    const double scale = component.relative ? input_.nominal : 1;
    const sampling::Support made{(input_.smallest - input_.nominal) / scale, (input_.largest - input_.nominal) / scale};
    const double beyond = 1 - sampling::kept_fraction(component.deviation, made);
    if (beyond < rare) return;
    const sampling::Support from_below{made.lower, std::numeric_limits<double>::infinity()};
    const bool below = 1 - sampling::kept_fraction(component.deviation, from_below) > 0.5 * beyond;
    context_.findings.warning(
        at.at, reader_.path(),
        fmt::format("about {} % of the draws lie {} {}: pieces that cannot be made and are not computed",
                    short_number(beyond * 100, 2), below ? "below" : "above",
                    told(below ? input_.smallest : input_.largest, input_.unit)),
        "State another shape, such as uniform, lognormal or truncated normal.");
  }

  void finish() {
    if (head_.empty()) head_ = belief_words_.empty() ? told(input_.nominal, input_.unit) : "";
    std::string text = head_;
    const auto append = [&](const std::string& more) {
      text = text.empty() ? more : fmt::format("{}{}{}", text, text == head_ ? ": " : ", ", more);
    };
    if (!belief_words_.empty()) append(belief_words_);
    const bool main = input_.components.size() > further_;
    if (main) append(words_.front());
    if (input_.components.empty() && belief_words_.empty()) append("exact");
    const std::string subject = rule_.subject.empty() ? rule_.name : rule_.subject;
    append(subject);
    if (main) append(level_words(input_.components[0].level));
    const bool of_reading = main && input_.components[0].level == study::reading_level;
    if (input_.tolerance.bounded() && main && !of_reading)
      append(cut_ || sorted_ ? "sorted by a perfect gauge" : "not sorted");
    for (std::size_t i = main ? 1 : 0; i < words_.size(); ++i) append(words_[i]);
    input_.understood = text;
  }

  const Node& node_;
  const QuantityRule& rule_;
  Context& context_;
  StatementReader reader_;
  Fields fields_;
  study::Input input_;
  std::optional<StatedValue> stated_;
  std::optional<DataSpread> data_;
  std::string head_, belief_words_;
  std::vector<std::string> words_;
  std::size_t further_ = 0;
  bool sorted_ = false, cut_ = false;
};

}  // namespace

std::optional<study::Input> read_quantity(const Node& node, const QuantityRule& rule, const std::string& path,
                                          const std::string& step, Context& context, const std::string& reported_path) {
  if (node.refused) return std::nullopt;
  return QuantityReader(node, rule, path, step, context, reported_path).read();
}

std::optional<study::Input> read_quantity(const Node& node, const QuantityRule& rule, const std::string& path,
                                          const std::string& step, Context& context) {
  return read_quantity(node, rule, path, step, context, path);
}

std::string told(double si, const Unit& unit) {
  const std::string number = short_number(unit.from_si(si), 6);
  return unit.name.empty() ? number : fmt::format("{} {}", number, unit.name);
}

std::string told_spread(double si, const Unit& unit) {
  const std::string number = short_number(unit.spread_from_si(si), 3);
  return unit.name.empty() ? number : fmt::format("{} {}", number, unit.name);
}

}  // namespace mintspread::specs
