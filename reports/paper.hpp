#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "reports/text.hpp"

namespace mintspread::reports {

/// Unicode code points of a UTF-8 text: columns it takes on a terminal, wide and combining characters aside.
std::size_t columns_of(std::string_view text);

enum class Align { left, right };

struct TextColumn {
  std::string heading;
  Align align = Align::right;
  bool wrap = false;   ///< takes what is left of the width and breaks its text; at most one column, the last
  bool apart = false;  ///< a table too wide breaks here when what follows does not fit any more
};

/// A table of text. The first `keys` columns name the row and stand again in each part when the table is wider than the
/// paper.
struct TextTable {
  std::vector<TextColumn> columns;
  std::size_t keys = 1;
  std::vector<std::vector<std::string>> rows;
};

enum class Tone { plain, strong, good, bad, doubtful };

/// Text for a terminal of limited width. Control characters in what is written are replaced, so that a name in a
/// specification cannot drive the terminal.
class Paper {
 public:
  explicit Paper(const TextOptions& options);

  void heading(std::string_view text, std::string_view aside = {});
  /// Wrapped at blanks; lines after the first stand `hanging` columns further in.
  void paragraph(std::string_view text, Tone tone = Tone::plain, std::size_t indent = 0, std::size_t hanging = 0);
  /// One line however long it is, to be copied.
  void unbroken(std::string_view text, std::size_t indent);
  void table(const TextTable& table, std::size_t indent = 2);
  void gap();

  std::size_t width() const { return width_; }
  std::string take() { return std::move(text_); }

 private:
  std::string toned(std::string text, Tone tone) const;
  void part(const TextTable& table, const std::vector<std::size_t>& shown, const std::vector<std::size_t>& widths,
            std::size_t indent);

  std::size_t width_;
  bool colour_;
  std::string text_;
};

}  // namespace mintspread::reports
