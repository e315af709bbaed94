#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"

namespace mintspread::signature {

/// The name by which an expression calls a channel: letters, digits and underscores of its name, every other character
/// written as an underscore, one more in front of a leading digit.
std::string variable_name(std::string_view channel);

/// A formula of channels: + - * / ^, comparisons, && ||, a ? b : c, and muParser's functions; `log` and `ln` are
/// natural, `log10` decimal. A result that is not finite (1/0, log(-1), or a channel without a value) is undefined:
/// NaN. Copying makes an independent evaluator: one expression a thread.
class Expression {
 public:
  /// `channels` are the names the formula may use. Throws InvalidSpecification naming `path` when the text is empty,
  /// longer than 500 characters, assigns, gives several results, cannot be parsed, or names something unknown.
  Expression(std::string text, std::span<const std::string> channels, const std::string& path);
  ~Expression();
  Expression(const Expression& other);
  Expression(Expression&&) noexcept;
  Expression& operator=(Expression other) noexcept;

  /// Positions in `channels` that the formula uses, rising.
  std::span<const std::size_t> used() const;

  /// Value in every lane; column c of `values` belongs to the c-th channel. Lanes in which a used channel is NaN give
  /// NaN. `out` may be a column of `values` that the formula does not use.
  void evaluate(const Columns& values, std::span<double> out);

 private:
  struct Parser;
  std::unique_ptr<Parser> parser_;
};

}  // namespace mintspread::signature
