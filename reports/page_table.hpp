#pragma once

#include <string>
#include <vector>

#include "engine/study/result.hpp"
#include "reports/pairs.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

/// Part of a cell. `value` is the number as the JSON file has it, for programs; empty where the part is words. `scale`
/// is what it was multiplied by for the text where the text's own unit does not say so.
struct Part {
  std::string text;
  std::string value;
  std::string scale = {};
};
using Cell = std::vector<Part>;

struct Row {
  std::string label;
  std::vector<Cell> cells;
};

/// Rows under a heading that spans the table; no heading when it is empty.
struct RowGroup {
  std::string heading;
  std::vector<Row> rows;
};

struct PageTable {
  std::string caption;
  std::vector<std::string> columns;  ///< the first names the rows
  std::vector<RowGroup> groups;
  bool words = false;  ///< cells are sentences, not numbers
};

/// A number and its value; words where it does not exist.
Part number(std::string text, double value);

/// A figure: value, interval and, if `bands`, what is not known.
Row figure_row(const std::string& label, const study::Figure& figure, bool bands);

/// A fraction in per cent: value, interval and, if `bands`, what is not known.
Row percent_row(const std::string& label, const study::Figure& fraction, bool bands);

// The tables of the page. Each number stands with its interval, and with its band where something is not known.

PageTable losses_table(const study::Result& result);
PageTable subject_table(const study::Result& result, const Subject& subject);
PageTable pair_table(const study::Result& result, const ChannelPair& pair);
PageTable budget_table(const study::Result& result, const study::ChannelResult& channel);
PageTable window_use_table(const study::Result& result, const Subject& subject);
PageTable shares_table(const study::ChannelResult& channel);
PageTable lots_table(const study::LotResult& lots);
PageTable lot_components_table(const study::LotResult& lots);
PageTable section_table_of(const study::NominalCoin& coin);
PageTable impedance_table(const study::Result& result);
PageTable impedance_spread_table(const study::NominalCoin& coin);
PageTable decay_table(const study::NominalCoin& coin);
PageTable decay_spread_table(const study::NominalCoin& coin);
PageTable inputs_table(const study::Result& result);

}  // namespace mintspread::reports
