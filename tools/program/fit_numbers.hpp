#pragma once

#include <string>

#include "engine/measured/family.hpp"
#include "specs/quantity_text.hpp"

namespace mintspread::program {

/// The unit a text names; throws Rejected, which tells of `where` it was found.
specs::MeasuredUnit fit_unit(const std::string& text, const std::string& where);

/// Numbers of the options of `fit`, told in the unit of the column; a number without unit is in it already. What is no
/// such number throws UsageError.
class FitNumbers {
 public:
  explicit FitNumbers(specs::MeasuredUnit unit) : unit_(std::move(unit)) {}

  /// A distance or, in %, a part of the value.
  specs::Stretch stretch(const std::string& option, const std::string& text) const;
  measured::Kept limits(const std::string& option, const std::string& text) const;

 private:
  enum class Meant { place, distance };
  double told(const std::string& option, const std::string& text, const specs::WrittenNumber& number,
              Meant meant) const;

  specs::MeasuredUnit unit_;
};

}  // namespace mintspread::program
