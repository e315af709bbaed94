#include "engine/signature/expression.hpp"

#include <muParser.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>

#include "engine/base/nearest.hpp"

namespace mintspread::signature {
namespace {

constexpr std::size_t longest_text = 500;
constexpr const char* functions = "abs sqrt exp log ln log10 log2 sin cos tan asin acos atan min max";

double lowest(const double* values, int count) { return *std::min_element(values, values + count); }
double highest(const double* values, int count) { return *std::max_element(values, values + count); }

using Function = double (*)(double);

/// muParser with our own short list of functions: its own has a random number in it.
void prepare(mu::Parser& parser) {
  parser.ClearFun();
  parser.DefineFun("abs", static_cast<Function>(std::fabs));
  parser.DefineFun("sqrt", static_cast<Function>(std::sqrt));
  parser.DefineFun("exp", static_cast<Function>(std::exp));
  parser.DefineFun("log", static_cast<Function>(std::log));
  parser.DefineFun("ln", static_cast<Function>(std::log));
  parser.DefineFun("log10", static_cast<Function>(std::log10));
  parser.DefineFun("log2", static_cast<Function>(std::log2));
  parser.DefineFun("sin", static_cast<Function>(std::sin));
  parser.DefineFun("cos", static_cast<Function>(std::cos));
  parser.DefineFun("tan", static_cast<Function>(std::tan));
  parser.DefineFun("asin", static_cast<Function>(std::asin));
  parser.DefineFun("acos", static_cast<Function>(std::acos));
  parser.DefineFun("atan", static_cast<Function>(std::atan));
  parser.DefineFun("min", lowest);
  parser.DefineFun("max", highest);
}

/// A `=` that is not part of ==, !=, <= or >= would assign to a channel.
bool assigns(const std::string& text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '=') continue;
    if (i + 1 < text.size() && text[i + 1] == '=') {
      ++i;
      continue;
    }
    if (i > 0 && (text[i - 1] == '<' || text[i - 1] == '>' || text[i - 1] == '!')) continue;
    return true;
  }
  return false;
}

[[noreturn]] void refuse(const std::string& path, std::string what, std::string remedy) {
  throw InvalidSpecification({{path, std::move(what), std::move(remedy)}});
}

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : ", ") + word;
  return text;
}

}  // namespace

std::string variable_name(std::string_view channel) {
  std::string name;
  for (const char c : channel) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
    name += plain ? c : '_';
  }
  if (!name.empty() && name.front() >= '0' && name.front() <= '9') name.insert(name.begin(), '_');
  return name;
}

struct Expression::Parser {
  std::string text;
  std::vector<std::string> names;  ///< of the used channels
  std::vector<std::size_t> positions;
  std::vector<double> values;  ///< what muParser reads; never resized after `bind`
  mu::Parser parser;

  void bind() {
    prepare(parser);
    values.assign(names.size(), 0.0);
    for (std::size_t i = 0; i < names.size(); ++i) parser.DefineVar(names[i], &values[i]);
    parser.SetExpr(text);
  }
};

Expression::Expression(std::string text, std::span<const std::string> channels, const std::string& path)
    : parser_(std::make_unique<Parser>()) {
  if (text.find_first_not_of(" \t\n") == std::string::npos)
    refuse(path, "the expression is empty", "Write a formula of channel names, for example `log(skin / core)`.");
  if (text.size() > longest_text)
    refuse(path, "the expression is longer than 500 characters", "Split it into several channels.");
  if (assigns(text)) refuse(path, "a single `=` assigns and is no comparison", "Write `==` to compare.");

  std::vector<std::string> names;
  for (const std::string& channel : channels) names.push_back(variable_name(channel));
  const std::string known =
      channels.empty() ? "No channel stands before this one." : "Channels: " + joined(names) + ".";
  std::vector<double> nothing(names.size(), 1.0);
  try {
    mu::Parser trial;
    prepare(trial);
    for (std::size_t i = 0; i < names.size(); ++i) trial.DefineVar(names[i], &nothing[i]);
    trial.SetExpr(text);
    std::vector<Problem> unknown;
    // Unknown names pass here, so that all of them can be told at once.
    for (const auto& [name, value] : trial.GetUsedVar()) {
      const auto found = std::find(names.begin(), names.end(), name);
      if (found == names.end()) {
        const std::string_view near = nearest(name, names);
        unknown.push_back({path, "no channel is called `" + name + "`",
                           (near.empty() ? "" : "Did you mean `" + std::string(near) + "`? ") + known});
      } else {
        parser_->positions.push_back(static_cast<std::size_t>(found - names.begin()));
      }
    }
    if (!unknown.empty()) throw InvalidSpecification(std::move(unknown));
    int results = 0;
    trial.Eval(results);
    if (results != 1)
      refuse(path, "a comma outside the brackets of a function makes several results of one expression",
             "Use a decimal point in numbers, and one formula for each channel.");
  } catch (const mu::ParserError& error) {
    const int position = error.GetPos();
    refuse(path,
           "the expression cannot be read: " + error.GetMsg() +
               (position >= 0 ? " (character " + std::to_string(position + 1) + ")" : ""),
           "Allowed are numbers, + - * / ^, comparisons, && ||, a ? b : c, brackets and the functions " +
               std::string(functions) + ". " + known);
  }
  if (parser_->positions.empty())
    refuse(path, "the expression uses no channel, so it says nothing about a coin", known);

  std::sort(parser_->positions.begin(), parser_->positions.end());
  for (const std::size_t position : parser_->positions) parser_->names.push_back(names[position]);
  parser_->text = std::move(text);
  parser_->bind();
}

Expression::~Expression() = default;
Expression::Expression(Expression&&) noexcept = default;

// A copy of a muParser object keeps reading the variables of its original, so the copy is bound anew.
Expression::Expression(const Expression& other) : parser_(std::make_unique<Parser>()) {
  parser_->text = other.parser_->text;
  parser_->names = other.parser_->names;
  parser_->positions = other.parser_->positions;
  parser_->bind();
}

Expression& Expression::operator=(Expression other) noexcept {
  std::swap(parser_, other.parser_);
  return *this;
}

std::span<const std::size_t> Expression::used() const { return parser_->positions; }

void Expression::evaluate(const Columns& values, std::span<double> out) {
  constexpr double undefined = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t lane = 0; lane < out.size(); ++lane) {
    bool defined = true;
    for (std::size_t i = 0; i < parser_->positions.size(); ++i) {
      parser_->values[i] = values[parser_->positions[i]][lane];
      // A comparison with NaN is false and would turn a missing channel into an ordinary number.
      defined = defined && !std::isnan(parser_->values[i]);
    }
    const double result = defined ? parser_->parser.Eval() : undefined;
    out[lane] = std::isfinite(result) ? result : undefined;
  }
}

}  // namespace mintspread::signature
