#include "specs/sorts.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "specs/check.hpp"
#include "specs/constant.hpp"
#include "specs/number.hpp"
#include "specs/quantity.hpp"
#include "specs/windows.hpp"

namespace mintspread::specs {

namespace {

using Reads = study::Sort::Reads;

/// A step before a sort, by the names that the file and the inputs have for it.
struct Step {
  std::string path;  ///< "bath.copper"
  std::string step;  ///< "bath copper"
  std::string bath;  ///< "copper"; empty for other steps
};

class SortReader {
 public:
  explicit SortReader(Context& context) : context_(context), channels_(context.model.sensor.channels) {}

  void read(const Node& route) {
    for (const Node& item : route.items) {
      if (item.refused || item.entries.size() != 1 || item.entries[0].value.kind != Node::Kind::mapping) continue;
      const Entry& entry = item.entries[0];
      if (entry.value.refused) continue;
      const std::string name = Fields(entry.value, "").text("name");
      const Fields fields(entry.value, name.empty() ? entry.key : entry.key + "." + name);
      Step step{fields.path(), name.empty() ? entry.key : entry.key + " " + name, entry.key == "bath" ? name : ""};
      const std::size_t read = context_.model.sorts.size();
      if (entry.key == "sort" || entry.key == "read") read_sort(fields, name, step);
      for (std::size_t s = 0; s < read; ++s) context_.model.sorts[s].later.push_back(step.step);
      steps_.push_back(std::move(step));
      if (entry.key != "sort" && entry.key != "read" && entry.key != "load") ++formed_;
    }
  }

 private:
  void error(const Node& at, const std::string& path, const std::string& what, const std::string& remedy) {
    context_.findings.error(at.at, path, what, remedy);
  }

  void read_sort(const Fields& f, const std::string& name, const Step& step) {
    const std::size_t before = context_.findings.errors();
    auto& sorts = context_.model.sorts;
    if (formed_ == 0) return error(f.node(), f.path(), "no piece is there yet to be read", "Put it behind the blank.");
    if (sorts.size() == study::most_sorts)
      return error(f.node(), f.path(),
                   fmt::format("more than {} sorts and readings stand in the route", study::most_sorts), "");
    study::Sort sort;
    sort.name = name;
    sort.path = f.path();
    sort.after = formed_;
    const auto unit = read_what(f, sort);
    if (!unit) return;
    sort.unit = unit->unit;
    if (const Node* limits = f["limits"])
      if (const auto read = read_limits(*limits, sort.unit, unit->dimension, f.path("limits"), context_))
        sort.limits = *read;
    const QuantityRule bias{.name = "bias", .dimensions = {unit->dimension}, .subject = "bias of this reading"};
    const QuantityRule repeatability{.name = "repeatability",
                                     .dimensions = {unit->dimension},
                                     .level = study::reading_level,
                                     .subject = "repeatability of this reading",
                                     .deviation_only = true};
    sort.bias = error_of(f, bias, step.step, sort.unit);
    sort.repeatability = error_of(f, repeatability, step.step, sort.unit);
    read_load(f, sort);
    read_rework(f, step, sort);
    if (context_.findings.errors() != before) return;
    context_.model.inputs[index(sort.bias)].understood += rule(f, sort);
    sorts.push_back(std::move(sort));
  }

  /// What becomes of the pieces, for the echo.
  std::string rule(const Fields& f, const study::Sort& sort) const {
    const std::string load =
        sort.load ? fmt::format("mean of {} from each {}", sort.test_pieces, context_.model.groups[*sort.load].name)
                  : "";
    if (!f["limits"]) return "; reads " + (load.empty() ? "each piece" : load) + ", all go on";
    std::string text = fmt::format("; keeps what reads {}", single_blanks(f["limits"]->text));
    if (sort.load) text += ", " + load + ", kept or not as a whole";
    if (sort.times == 0) return text + "; scraps the rest";
    return text + fmt::format("; the rest goes back to {}, {} at most, and is scrapped then", f.text("back to"),
                              sort.times == 1 ? "once" : fmt::format("{} times", sort.times));
  }

  /// What is read, and its unit with dimension.
  std::optional<MeasuredUnit> read_what(const Fields& f, study::Sort& sort) {
    const auto unit_of = [](const char* text) { return std::get<MeasuredUnit>(unit_text(text)); };
    if (f["gauge"]) {
      const std::string gauge = f.text("gauge");
      sort.reads = gauge == "mass" ? Reads::mass : gauge == "diameter" ? Reads::diameter : Reads::thickness;
      return unit_of(gauge == "mass" ? "g" : "mm");
    }
    if (const Node* layer = f["layer"]) {
      std::vector<std::string> baths;
      for (const Step& step : steps_)
        if (!step.bath.empty()) baths.push_back(step.bath);
      sort.reads = Reads::layer;
      sort.layer = f.text("layer");
      if (std::ranges::find(baths, sort.layer) != baths.end()) return unit_of("um");
      error(*layer, f.path("layer"), fmt::format("`{}` is no layer of the piece at this step", sort.layer),
            suggest(sort.layer, baths));
      return std::nullopt;
    }
    const Node* channel = f["channel"];
    if (channel == nullptr) return std::nullopt;
    sort.reads = Reads::channel;
    std::vector<std::string> names;
    for (const signature::Channel& known : channels_) names.push_back(known.name);
    const auto found = std::ranges::find(names, f.text("channel"));
    if (found == names.end()) {
      error(*channel, f.path("channel"), fmt::format("`{}` is no channel of the sensor", f.text("channel")),
            suggest(f.text("channel"), names));
      return std::nullopt;
    }
    sort.channel = static_cast<std::size_t>(found - names.begin());
    const Unit& unit = channels_[sort.channel].unit;
    const auto read = unit_text(unit.name);
    return MeasuredUnit{
        unit, std::holds_alternative<MeasuredUnit>(read) ? std::get<MeasuredUnit>(read).dimension : Dimension{}};
  }

  InputId error_of(const Fields& f, const QuantityRule& rule, const std::string& step, const Unit& unit) {
    const std::string path = f.path(rule.name);
    if (const Node* node = f[rule.name]) {
      auto input = read_quantity(*node, rule, path, step, context_);
      return input ? context_.add(std::move(*input)) : InputId{};
    }
    if (f.stands(rule.name)) return {};
    return context_.add(constant_input(rule, path, step, 0, unit, fmt::format("no {}, not stated", rule.subject)));
  }

  std::size_t count(const Fields& f, const std::string& key, std::size_t most) {
    const Node* node = f[key];
    if (node == nullptr) return 1;
    const auto read = count_text(node->text);
    const auto* number = std::get_if<std::size_t>(&read);
    if (number == nullptr)
      error(*node, f.path(key), std::get<TextFault>(read).what, std::get<TextFault>(read).remedy);
    else if (*number > most)
      error(*node, f.path(key), fmt::format("at most {} can stand here", most), "");
    return number == nullptr ? 1 : *number;
  }

  void read_load(const Fields& f, study::Sort& sort) {
    const Node* per = f["per"];
    sort.test_pieces = count(f, "test pieces", study::most_test_pieces);
    if (per == nullptr) {
      if (f["test pieces"])
        error(*f["test pieces"], f.path("test pieces"), "test pieces decide about a group, which is not named",
              "Add `per: barrel`, or leave them out.");
      return;
    }
    const auto level = context_.level(single_blanks(per->text), per->at, f.path("per"));
    if (!level) return;
    if (*level > study::reading_level)
      sort.load = *level;
    else if (*level == study::reading_level || f["test pieces"])
      error(*per, f.path("per"), "a group of pieces stands here", "Leave `per` out to sort piece by piece.");
  }

  void read_rework(const Fields& f, const Step& own, study::Sort& sort) {
    const Node* back = f["back to"];
    if (back == nullptr) {
      if (f["times"])
        error(*f["times"], f.path("times"), "what is scrapped is not reworked", "Add `back to`, or leave it out.");
      return;
    }
    const std::string target = single_blanks(back->text);
    std::vector<std::string> known;
    for (const Step& step : steps_) known.push_back(step.path);
    const auto from = std::ranges::find(steps_, target, &Step::path);
    if (from == steps_.end() || target.starts_with("sort.") || target.starts_with("read."))
      return error(*back, f.path("back to"), fmt::format("`{}` is no step before this sort", target),
                   suggest(target, known));
    for (auto step = from; step != steps_.end(); ++step) {
      if (step->path.starts_with("sort.") || step->path.starts_with("read."))
        return error(*back, f.path("back to"),
                     fmt::format("rework would go back over `{}`, which has read these pieces already", step->path),
                     "Go back to a step after it, or put that step here too.");
      sort.redone.push_back(step->step);
      if (!step->bath.empty()) sort.stripped.push_back(step->bath);
    }
    sort.redone.push_back(own.step);
    sort.times = count(f, "times", study::most_reworks);
  }

  Context& context_;
  const std::vector<signature::Channel>& channels_;
  std::vector<Step> steps_;
  std::size_t formed_ = 0;
};

}  // namespace

void read_sorts(const Node& route, Context& context) { SortReader(context).read(route); }

}  // namespace mintspread::specs
