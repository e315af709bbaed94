#pragma once

#include <optional>
#include <string>

#include "specs/check.hpp"
#include "specs/context.hpp"
#include "specs/quantity.hpp"
#include "specs/spread.hpp"

namespace mintspread::specs {

/// The `value` of a quantity with its unit resolved, in SI.
struct StatedValue {
  MeasuredUnit unit;
  double nominal = 0;
  bool range = false;
  std::optional<Tolerance> tolerance;
  std::string level;  ///< after `per`; empty when not stated
  At level_at;
  std::string head;  ///< as written, without `per`
};

/// Reads statements of one quantity and reports what is wrong with them at the byte where it stands.
class StatementReader {
 public:
  StatementReader(const QuantityRule& rule, std::string path, Context& context)
      : rule_(rule), path_(std::move(path)), context_(context) {}

  const QuantityRule& rule() const { return rule_; }
  const std::string& path() const { return path_; }
  Context& context() const { return context_; }

  /// The short form at `node`. A tolerance alone (`+/- 2 um`) is about zero and taken only where the rule's value is
  /// zero by nature.
  std::optional<StatedValue> value(const Node& node) const;
  /// A range of values, without `per`.
  std::optional<StatedValue> range(const Node& node) const;
  /// What the keys `shape`, `sd`, `coverage`, `capability`, `degrees of freedom`, `edge` and `sorted` say about a
  /// value.
  std::optional<SpreadStatement> statement(const Fields* fields, const StatedValue& value) const;
  /// A distance, such as `sd` or `edge`.
  std::optional<Stretch> stretch(const Node& node, const std::string& key, const MeasuredUnit& unit) const;
  /// A fraction, `70 %` or `0.7`.
  std::optional<double> fraction(const Node& node, const std::string& key) const;
  /// A unit alone, which must be one of the rule's.
  std::optional<MeasuredUnit> unit(const Node& node, const std::string& key) const;
  /// Whether SI `value` lies within the rule's bounds; a finding otherwise. `what` is "the value", "the lower limit".
  bool within_bounds(double value, const Unit& unit, At at, const std::string& what) const;

  void error(At at, const std::string& key, const std::string& what, const std::string& remedy) const;
  void error(const Node& node, const std::string& key, const TextFault& fault) const;
  /// A fault of a statement at its key, or at `otherwise` where the key does not stand.
  void error(const Fields* fields, const Node& otherwise, const StatementFault& fault) const;

 private:
  std::optional<QuantityText> text(const Node& node, const std::string& key) const;
  bool dimension_fits(const Node& node, const WrittenNumber& number, const std::string& key) const;
  std::string examples() const;

  const QuantityRule& rule_;
  std::string path_;
  Context& context_;
};

}  // namespace mintspread::specs
