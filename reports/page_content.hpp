#pragma once

#include <span>
#include <string>
#include <utility>
#include <vector>

#include "engine/study/result.hpp"
#include "reports/page.hpp"
#include "reports/page_table.hpp"

namespace mintspread::reports {

/// A drawing and the table with its numbers; either may be missing.
struct Panel {
  std::string drawing, caption;  ///< the drawing is markup, all else is text
  PageTable table;
};

/// Panels under one heading.
struct PageFigure {
  std::string id, heading, lead;
  std::vector<std::string> marks;
  std::vector<Panel> panels;
  std::vector<std::pair<std::string, std::string>> lines = {};  ///< to copy: what a line is, the line
};

struct Verdict {
  std::string sentence, limit, band;
  std::vector<std::string> targets;
  bool less = false;  ///< a target is missed or undecided
};

/// What stands on a page, before it becomes markup.
struct PageContent {
  std::string title, coin, what, note;
  std::vector<Verdict> verdicts;
  std::vector<std::string> next, rests, uncovered, warnings, cautions;
  std::vector<PageFigure> figures;
  std::vector<std::pair<std::string, std::string>> record;
  Audience audience = Audience::engineer;
};

PageContent engineer_content(const study::Result& result, Times times);

/// Fits two sheets of A4: no route, layers, materials, process numbers or file paths.
PageContent customer_content(const study::Result& result, Times times);

/// Several coins side by side, channel by channel; at least one.
PageContent comparison_content(std::span<const study::Result> results, Times times);

/// The result without what a customer must not learn: layers, metals, inputs, warnings, paths, reasons that tell of the
/// coin's inside; of the coin's name only the part before the first word of its construction.
study::Result without_construction(const study::Result& result);

std::vector<Verdict> verdicts_of(const study::Result& result);

/// The page as HTML; names with markup stay text.
std::string rendered(const PageContent& content);

}  // namespace mintspread::reports
