#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace mintspread::reports {

// A few marks and scales from which every figure of the page is drawn. Lengths are units of a drawing 640 wide that is
// scaled to the column; colours, dashes and letter sizes are classes of the page's style sheet, never attributes.

inline constexpr double drawing_width = 640.0;
inline constexpr double drawing_left = 16.0;
inline constexpr double drawing_right = 624.0;
/// Height of a line of text at the largest letter size the style sheet uses (on narrow screens).
inline constexpr double text_line = 27.0;
/// Width of a letter at that size, on average.
inline constexpr double letter_width = 11.0;

/// Text as it may stand in markup and in attributes.
std::string escaped(std::string_view text);

/// At most `most` bytes of the text, cut between characters with an ellipsis.
std::string shortened(const std::string& text, std::size_t most);

/// From values to drawing units.
struct Scale {
  double from, to;        ///< values
  double at_from, at_to;  ///< drawing units
  bool logarithmic = false;

  double operator()(double value) const;
  /// The value, kept inside the scale's ends.
  double kept(double value) const;
};

/// Round values (1, 2 or 5 times a power of ten) inside [from, to], about `wanted` of them, and the decimal places they
/// need.
struct Ticks {
  std::vector<double> values;
  int places = 0;
};
Ticks round_ticks(double from, double to, int wanted);

enum class Anchor { start, middle, end };

using Points = std::vector<std::pair<double, double>>;

/// A drawing with its text alternative. `id` is unique in the page. Hatchings are defined once in the page's template.
class Drawing {
 public:
  Drawing(std::string id, double height, std::string_view title, std::string_view description);

  void polygon(const Points& points, std::string_view style);
  void polyline(const Points& points, std::string_view style);
  void line(double x1, double y1, double x2, double y2, std::string_view style);
  void rectangle(double x, double y, double width, double height, std::string_view style);
  void circle(double x, double y, double radius, std::string_view style);
  void diamond(double x, double y, double radius, std::string_view style);
  // Many small marks in one path each.
  void dots(const Points& places, std::string_view style);
  void crosses(const Points& places, std::string_view style);
  void diamonds(const Points& places, std::string_view style);
  void text(double x, double y, Anchor anchor, std::string_view words, std::string_view style = "");
  /// A window under a curve: a line with ends that point up; an open end has an arrow and no stop.
  void bracket(double x1, double x2, double y, bool open_left, bool open_right, std::string_view style);
  /// An axis at height y with its labels under it.
  void ruler(const Scale& scale, const Ticks& ticks, double y);

  std::string take();

 private:
  void points(const Points& points);
  void marks(const Points& places, std::string_view shape, std::string_view style);

  std::string id_, text_;
};

}  // namespace mintspread::reports
