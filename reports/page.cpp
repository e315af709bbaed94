#include "reports/page.hpp"

#include <kainjow/mustache.hpp>
#include <string>
#include <vector>

#include "engine/base/contract.hpp"
#include "reports/numbers.hpp"
#include "reports/page_content.hpp"
#include "reports/page_style.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using kainjow::mustache::data;

data list() { return data{data::type::list}; }

data texts(const std::vector<std::string>& sentences) {
  data all = list();
  for (const auto& sentence : sentences) {
    data one;
    one.set("text", unbroken(sentence));
    all << one;
  }
  return all;
}

data optional_text(const std::string& text) {
  if (text.empty()) return data{false};
  data one;
  one.set("text", unbroken(text));
  return one;
}

data table_data(const PageTable& table) {
  data to;
  to.set("caption", unbroken(table.caption));
  to.set("words", data{table.words});
  to.set("columns", texts(table.columns));
  data groups = list();
  for (const auto& group : table.groups) {
    data group_to;
    group_to.set("has_heading", data{!group.heading.empty()});
    group_to.set("heading", unbroken(group.heading));
    group_to.set("width", std::to_string(table.columns.size()));
    data rows = list();
    for (const auto& row : group.rows) {
      data row_to;
      row_to.set("label", unbroken(row.label));
      data cells = list();
      for (const auto& cell : row.cells) {
        data parts = list();
        for (const auto& part : cell) {
          data part_to;
          part_to.set("number", data{!part.value.empty()});
          part_to.set("word", data{part.value.empty()});
          part_to.set("value", part.value);
          part_to.set("scaled", data{!part.scale.empty()});
          part_to.set("scale", part.scale);
          part_to.set("text", part.text);
          parts << part_to;
        }
        data cell_to;
        cell_to.set("parts", parts);
        cells << cell_to;
      }
      row_to.set("cells", cells);
      rows << row_to;
    }
    group_to.set("rows", rows);
    groups << group_to;
  }
  to.set("groups", groups);
  return to;
}

data panel_data(const Panel& panel) {
  data to;
  to.set("has_drawing", data{!panel.drawing.empty()});
  to.set("drawing", panel.drawing);
  to.set("caption", unbroken(panel.caption));
  to.set("has_table", data{!panel.table.columns.empty()});
  to.set("table", table_data(panel.table));
  return to;
}

data verdict_data(const Verdict& verdict) {
  data to;
  to.set("verdict", unbroken(verdict.sentence));
  to.set("limit", unbroken(verdict.limit));
  to.set("band", optional_text(verdict.band));
  to.set("targets", texts(verdict.targets));
  to.set("less", data{verdict.less});
  return to;
}

data all_of(const auto& items, const auto& to_data) {
  data all = list();
  for (const auto& item : items) all << to_data(item);
  return all;
}

data record_data(const std::pair<std::string, std::string>& entry) {
  data to;
  to.set("name", entry.first);
  to.set("text", entry.second);
  return to;
}

data figure_data(const PageFigure& figure) {
  data to;
  to.set("id", figure.id);
  to.set("heading", unbroken(figure.heading));
  to.set("lead", optional_text(figure.lead));
  to.set("has_marks", data{!figure.marks.empty()});
  to.set("marks", texts(figure.marks));
  to.set("panels", all_of(figure.panels, panel_data));
  to.set("lines", all_of(figure.lines, record_data));
  return to;
}

data page_data(const PageContent& content) {
  data page;
  page.set("style", std::string(page_style()));
  page.set("title", content.title);
  page.set("coin", unbroken(content.coin));
  page.set("what", content.what);
  page.set("note", optional_text(content.note));
  page.set("customer", data{content.audience == Audience::customer});
  page.set("has_verdicts", data{!content.verdicts.empty()});
  page.set("no_verdicts", data{content.verdicts.empty()});
  page.set("verdicts", all_of(content.verdicts, verdict_data));
  page.set("next", texts(content.next));
  page.set("rests", texts(content.rests));
  page.set("uncovered", texts(content.uncovered));
  page.set("has_warnings", data{!content.warnings.empty()});
  page.set("warnings", texts(content.warnings));
  page.set("has_contents", data{content.figures.size() > 4});
  page.set("figures", all_of(content.figures, figure_data));
  page.set("record", all_of(content.record, record_data));
  page.set("cautions", texts(content.cautions));
  return page;
}

}  // namespace

std::string rendered(const PageContent& content) {
  kainjow::mustache::mustache layout{std::string(page_template())};
  expect(layout.is_valid(), "the page's template is well formed");
  layout.set_custom_escape([](const std::string& text) { return escaped(text); });
  return layout.render(page_data(content));
}

std::string result_page(const study::Result& result, const PageOptions& options) {
  if (options.audience == Audience::customer) return rendered(customer_content(result, options.times));
  return rendered(engineer_content(result, options.times));
}

std::string comparison_page(std::span<const study::Result> results, Times times) {
  return rendered(comparison_content(results, times));
}

}  // namespace mintspread::reports
