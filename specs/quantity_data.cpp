#include "specs/quantity_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <memory>
#include <numeric>

#include "engine/base/sha256.hpp"
#include "specs/csv.hpp"
#include "specs/data_gauge.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t few_values = 30;

/// Quantile of sorted values by linear interpolation between order statistics (definition 7 of Hyndman & Fan 1996).
double quantile(const std::vector<double>& sorted, double probability) {
  const double position = probability * static_cast<double>(sorted.size() - 1);
  const auto at = static_cast<std::size_t>(position);
  const double next = sorted[std::min(at + 1, sorted.size() - 1)];
  return sorted[at] + (position - static_cast<double>(at)) * (next - sorted[at]);
}

/// 0.9 min(sd, interquartile range / 1.34) n^(-1/5): B. W. Silverman, Density Estimation, 1986, eq. 3.31 (from memory).
double silverman_width(const std::vector<double>& sorted, double sd) {
  const double quartiles = (quantile(sorted, 0.75) - quantile(sorted, 0.25)) / 1.34;
  const double width = quartiles > 0 ? std::min(sd, quartiles) : sd;
  return 0.9 * width * std::pow(static_cast<double>(sorted.size()), -0.2);
}

/// What was measured, for the canonical form: the numbers as read, in their order.
std::string digest(const std::vector<double>& values) {
  std::string text;
  char buffer[32];
  for (double value : values) {
    text.append(buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr);
    text += '\n';
  }
  return sha256(text);
}

}  // namespace

std::string unit_in_heading(const Node& data, const std::string& path, Context& context) {
  const Fields f(data, path);
  const Node *file = f["file"], *column = f["column"];
  const Source* source = file && column ? context.open(*file, f.path("file"), "the table of measurements") : nullptr;
  if (source == nullptr) return {};
  Findings told_later;
  const auto read = read_csv_column(*source, single_blanks(column->text), column->at, path, told_later);
  return read ? read->heading_unit : std::string();
}

std::optional<DataSpread> read_measured(const Node& data, const std::optional<StatedValue>& stated,
                                        const StatementReader& reader) {
  const Fields f(data, below(reader.path(), "data"));
  Context& context = reader.context();
  const Node *file = f["file"], *column = f["column"], *unit_node = f["unit"];
  if (file == nullptr || column == nullptr) return std::nullopt;
  const Source* source = context.open(*file, f.path("file"), "the table of measurements");
  if (source == nullptr || (unit_node == nullptr && f.stands("unit"))) return std::nullopt;
  const std::string heading = single_blanks(column->text);
  const auto read = read_csv_column(*source, heading, column->at, reader.path(), context.findings);
  if (!read) return std::nullopt;
  // The unit is the one stated, or the one in the heading of the column.
  Node from_heading;
  from_heading.kind = Node::Kind::text;
  from_heading.at = column->at;
  from_heading.text = read->heading_unit;
  const auto found = reader.unit(unit_node ? *unit_node : from_heading, "data.unit");
  if (!found) return std::nullopt;
  const MeasuredUnit unit = *found;
  if (stated && stated->unit.dimension != unit.dimension) {
    reader.error(
        unit_node ? unit_node->at : data.at, "data.unit",
        fmt::format("the data are {}, but the value is {}", name_of(unit.dimension), name_of(stated->unit.dimension)),
        "");
    return std::nullopt;
  }
  if (unit_node && !read->heading_unit.empty() && read->heading_unit != single_blanks(unit_node->text))
    context.findings.warning(column->at, f.path("column"),
                             fmt::format("the heading of the table says `{}`; the numbers are taken in `{}`, as stated",
                                         read->heading_unit, unit.unit.name),
                             "");
  if (read->empty > 0)
    context.findings.warning(column->at, f.path("column"), fmt::format("{} empty cells are left out", read->empty), "");
  const std::size_t n = read->values.size();
  if (n < few_values)
    context.findings.warning(column->at, f.path("column"),
                             fmt::format("{} values say little about the tails, and rejects come from the tails", n),
                             "Measure more pieces, or state a shape.");

  std::vector<double> values;
  bool sound = true;
  for (std::size_t i = 0; i < n; ++i) {
    values.push_back(to_si(read->values[i], unit.unit));
    if (sound) sound = reader.within_bounds(values.back(), unit.unit, read->places[i], "a measured value");
  }
  if (!sound) return std::nullopt;
  std::string gauge_words;
  if (const Node* gauge_file = f["gauge"]) {
    const auto gauge = open_gauge(*gauge_file, f, unit, reader);
    if (gauge) gauge_words = without_gauge(*gauge, values, *gauge_file, unit.unit, reader);
    if (gauge_words.empty()) return std::nullopt;
    sound = true;
    for (std::size_t i = 0; i < n && sound; ++i)
      sound = reader.within_bounds(values[i], unit.unit, read->places[i], "a measured value without the gauge's error");
    if (!sound) return std::nullopt;
  }
  // What drives the draws, so that a gauge's numbers and a unit outside of the specification count with the values.
  context.tables.emplace(reader.path(), digest(gauge_words.empty() && unit_node ? read->values : values));

  DataSpread out;
  out.unit = stated ? stated->unit : unit;
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(n);
  out.nominal = stated ? stated->nominal : mean;
  const double sd = sd_of(values, mean);
  std::sort(values.begin(), values.end());
  if (values.front() == values.back())
    context.findings.warning(column->at, f.path("column"), "all measured values are equal", "");
  if (stated && stated->tolerance) {
    const double scale = stated->tolerance->relative ? stated->nominal : 1;
    out.between = static_cast<std::size_t>(std::count_if(values.begin(), values.end(), [&](double v) {
      return v >= stated->nominal - stated->tolerance->below * scale &&
             v <= stated->nominal + stated->tolerance->above * scale;
    }));
  }
  const double width = f.text("smooth") == "true" ? silverman_width(values, sd) : 0;
  // The kernel's variance comes on top of that of the values: both are drawn together so that the variance stays what
  // was measured (B. W. Silverman & G. A. Young, Biometrika 74, 469 (1987), from memory).
  const double together = 1 / std::sqrt(1 + (width > 0 ? width * width / (sd * sd) : 0));
  for (double& v : values) v = mean + (v - mean) * together - out.nominal;
  out.deviation = sampling::Measured{std::move(values), width * together};
  out.head = fmt::format("{} values of {}, column {}", n, single_blanks(file->text), heading);
  out.words = fmt::format("measured, mean {}, sd {}, {}", told(mean, out.unit.unit), told_spread(sd, out.unit.unit),
                          width > 0 ? "smoothed by a normal kernel, sd " + told_spread(width, out.unit.unit)
                                    : "drawn between order statistics");
  if (!gauge_words.empty()) out.words += ", " + gauge_words;
  out.note = fmt::format("n = {}, {}", n, single_blanks(file->text));
  return out;
}

std::optional<DataSpread> read_mixture(const Node& parts, const std::optional<StatedValue>& stated,
                                       const StatementReader& reader) {
  if (parts.items.size() < 2) {
    reader.error(parts.at, "parts", "a mixture has two parts or more", "");
    return std::nullopt;
  }
  struct Part {
    double weight, nominal;
    sampling::Shape shape;
  };
  std::vector<Part> read;
  std::string words;
  double total = 0, mean = 0;
  MeasuredUnit unit;
  bool sound = true;
  const std::size_t before = reader.context().findings.errors();
  for (std::size_t i = 0; i < parts.items.size(); ++i) {
    const std::string path = fmt::format("{}.parts.{}", reader.path(), i + 1);
    const StatementReader inner(reader.rule(), path, reader.context());
    const Fields f(parts.items[i], path);
    const Node *weight_node = f["weight"], *value_node = f["value"];
    const double weight = weight_node ? inner.fraction(*weight_node, "weight").value_or(1) : 1;
    const auto value = value_node ? inner.value(*value_node) : std::nullopt;
    const auto statement = value ? inner.statement(&f, *value) : std::nullopt;
    sound = sound && statement;
    if (!(weight > 0)) {
      inner.error(weight_node->at, "weight", "a weight is larger than 0", "Leave the part out.");
      sound = false;
    }
    if (value && !value->level.empty()) {
      inner.error(value->level_at, "value", "the parts of a mixture share one level of variation",
                  "State `per` beside `parts`.");
      sound = false;
    }
    if (!statement) continue;
    if (i == 0) unit = value->unit;
    if (value->unit.dimension != unit.dimension || (stated && stated->unit.dimension != value->unit.dimension)) {
      inner.error(value_node->at, "value", "the parts of a mixture are not of one kind", "");
      sound = false;
    }
    const auto spread = read_spread(*statement, [&](double size) { return told_spread(size, value->unit.unit); });
    if (const auto* fault = std::get_if<StatementFault>(&spread)) {
      inner.error(&f, *value_node, *fault);
      sound = false;
      continue;
    }
    const auto& found = std::get<std::optional<SpreadReading>>(spread);
    sampling::Shape shape = found ? found->deviation : sampling::Shape(sampling::Normal{0});
    if (found && found->relative) shape = scaled(shape, value->nominal);
    total += weight;
    mean += weight * value->nominal;
    words += fmt::format("{}{} % {} ({})", words.empty() ? "" : ", ", short_number(weight * 100, 6), value->head,
                         found ? found->words : "exact");
    read.push_back({weight, value->nominal, std::move(shape)});
  }
  if (!sound || reader.context().findings.errors() > before) return std::nullopt;
  if (std::abs(total - 1) > 1e-9) {
    reader.error(parts.at, "parts", fmt::format("the weights add up to {} %", short_number(total * 100, 6)),
                 "They must add up to 100 %.");
    return std::nullopt;
  }
  DataSpread out;
  out.unit = stated ? stated->unit : unit;
  out.nominal = stated ? stated->nominal : mean / total;
  sampling::Mixture mixture;
  for (Part& part : read)
    mixture.parts.push_back({part.weight / total, part.nominal - out.nominal, std::move(part.shape)});
  out.deviation = std::make_shared<const sampling::Mixture>(std::move(mixture));
  out.head = fmt::format("mixture of {} parts", read.size());
  out.words = words;
  return out;
}

}  // namespace mintspread::specs
