#include "specs/quantity_text.hpp"

#include <array>

namespace mintspread::specs {

namespace {

constexpr std::size_t longest_quantity = 200;

bool digit(char c) { return c >= '0' && c <= '9'; }
bool blank(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

/// Throws TextFault inside this file only; quantity_text returns it.
class Reading {
 public:
  explicit Reading(std::string_view text) : text_(text) {}

  QuantityText read() {
    if (text_.size() > longest_quantity) throw TextFault{0, "this is too long for a quantity", ""};
    std::size_t end = text_.size();
    if (const std::size_t per = word_per(); per != npos) {
      const std::string_view level = trimmed(text_.substr(per + 3));
      if (level.empty())
        throw TextFault{per, "`per` names no group",
                        "Write `per piece`, `per reading` or `per` and the name of a group."};
      out_.level = single_blanks(level);
      out_.level_at = static_cast<std::size_t>(level.data() - text_.data());
      end = per;
    }
    out_.head = single_blanks(text_.substr(0, end));
    if (out_.head.empty()) throw TextFault{0, "a value is missing", ""};
    if (!symmetric(end) && !range(end) && !two_sided(end)) out_.value = number(0, end, false);
    return out_;
  }

 private:
  static constexpr std::size_t npos = std::string_view::npos;

  std::size_t word_per() const {
    for (std::size_t i = text_.find("per"); i != npos; i = text_.find("per", i + 1))
      if ((i == 0 || blank(text_[i - 1])) && (i + 3 == text_.size() || blank(text_[i + 3]))) return i;
    return npos;
  }

  std::size_t skip(std::size_t i, std::size_t end) const {
    while (i < end && blank(text_[i])) ++i;
    return i;
  }

  /// A number and the unit up to `end`.
  WrittenNumber number(std::size_t begin, std::size_t end, bool may_follow_sign) {
    const std::size_t at = skip(begin, end);
    if (at >= end) throw TextFault{begin > 0 ? begin - 1 : 0, "a number is missing here", ""};
    if (!may_follow_sign && text_[at] == '+' && at + 1 < end && blank(text_[at + 1]))
      throw TextFault{at, "a sign stands apart from its number", ""};
    const auto read = leading_number(text_.substr(at, end - at));
    if (const auto* fault = std::get_if<TextFault>(&read)) throw TextFault{at + fault->at, fault->what, fault->remedy};
    const NumberText found = std::get<NumberText>(read);
    const std::size_t unit_at = skip(at + found.length, end);
    const std::string_view unit = trimmed(text_.substr(unit_at, end - unit_at));
    const auto measured = unit_text(unit);
    if (const auto* fault = std::get_if<TextFault>(&measured)) throw TextFault{unit_at, fault->what, fault->remedy};
    return {found.value, std::get<MeasuredUnit>(measured), !unit.empty(), at, unit.empty() ? at : unit_at};
  }

  bool symmetric(std::size_t end) {
    std::size_t at = npos, length = 0;
    for (const std::string_view sign : {std::string_view("+/-"), std::string_view("\u00B1"), std::string_view("+-")})
      if (const std::size_t found = text_.substr(0, end).find(sign); found < at) at = found, length = sign.size();
    if (at == npos) return false;
    if (text_.substr(at, length) == "+-") throw TextFault{at, "`+-` is not read", "Write `+/-`."};
    if (text_.substr(at + length, end - at - length).find("+/-") != npos)
      throw TextFault{at + length, "two tolerances stand here", "State one."};
    if (skip(0, at) < at) out_.value = number(0, at, false);
    out_.tolerance = number(at + length, end, false);
    if (out_.tolerance.value < 0)
      throw TextFault{out_.tolerance.at, "a tolerance is stated by its size, not below zero", "Leave the sign out."};
    if (out_.tolerance.value == 0)
      throw TextFault{out_.tolerance.at, "a tolerance of zero is none", "Write the value alone."};
    out_.spread = WrittenSpread::symmetric;
    return true;
  }

  bool range(std::size_t end) {
    const std::size_t at = text_.substr(0, end).find("..");
    if (at == npos) return false;
    out_.value = number(0, at, false);
    out_.tolerance = number(at + 2, end, false);
    out_.spread = WrittenSpread::range;
    return true;
  }

  /// `+3/-1 um` or `-1/+3 um`, behind a value or alone: a sign after a blank, since one after a letter is an exponent.
  bool two_sided(std::size_t end) {
    const std::size_t begin = skip(0, end);
    const auto is_sign = [&](std::size_t i) { return i < end && (text_[i] == '+' || text_[i] == '-'); };
    std::size_t at = npos, lone = npos, slash = npos;
    for (std::size_t i = begin; i < end && slash == npos; ++i) {
      const bool starts = i == begin || blank(text_[i - 1]);
      if (starts && is_sign(i) && i + 1 < end && (digit(text_[i + 1]) || text_[i + 1] == '.'))
        at = i, lone = i > begin ? i : lone;
      if (at != npos && text_[i] == '/' && is_sign(skip(i + 1, end))) slash = i;
    }
    if (slash == npos && lone != npos)
      throw TextFault{lone, "one deviation stands here without the other",
                      "Write both, `+3/-1 um`, or `+/-` for equal ones."};
    if (slash == npos) return false;
    if (skip(0, at) < at) out_.value = number(0, at, false);
    WrittenNumber first = number(at, slash, true), second = number(slash + 1, end, true);
    if (!first.has_unit) first.measured = second.measured, first.has_unit = second.has_unit;
    const bool first_up = text_[first.at] == '+', second_up = text_[second.at] == '+';
    if (first_up == second_up)
      throw TextFault{at, "both deviations lie on one side of the value, so it is outside its own limits",
                      "State the range, `LOWER .. UPPER`."};
    out_.tolerance = first_up ? first : second;
    out_.below = first_up ? second : first;
    out_.below.value = -out_.below.value;
    if (out_.tolerance.value == 0 && out_.below.value == 0)
      throw TextFault{at, "a tolerance of zero is none", "Write the value alone."};
    out_.spread = WrittenSpread::two_sided;
    return true;
  }

  std::string_view text_;
  QuantityText out_;
};

}  // namespace

std::variant<QuantityText, TextFault> quantity_text(std::string_view text) {
  try {
    return Reading(text).read();
  } catch (const TextFault& fault) {
    return fault;
  }
}

std::variant<Stretch, TextFault> stretch_of(const WrittenNumber& written, const MeasuredUnit& unit) {
  const bool per_cent = written.has_unit && written.measured.unit.name == "%";
  if (per_cent && unit.unit.name != "%") {
    if (unit.dimension == dimension::temperature)
      return TextFault{written.at, "a percentage of a temperature depends on where its scale begins",
                       "State a difference, such as `5 K`."};
    return Stretch{written.value * 0.01, true};
  }
  if (!written.has_unit && !unit.unit.name.empty())
    return TextFault{written.unit_at, "no unit stands after this number",
                     "Write it in `" + unit.unit.name + "`, or in `%` of the value."};
  if (written.measured.dimension != unit.dimension)
    return TextFault{written.unit_at, name_of(written.measured.dimension) + " stands beside " + name_of(unit.dimension),
                     unit.unit.name.empty() ? "Write a pure number, or `%` of the value."
                                            : "Write it in `" + unit.unit.name + "`, or in `%` of the value."};
  return Stretch{written.value * written.measured.unit.scale, false};
}

double to_si(double value, const Unit& unit) { return (value + unit.offset) * unit.scale; }

}  // namespace mintspread::specs
