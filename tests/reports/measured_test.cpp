#include "reports/measured.hpp"

#include <catch2/catch.hpp>
#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>

using namespace mintspread;
using Catch::Contains;

namespace {

/// Invented: what a fit of a plated layer might find.
measured::MeasuredResult invented() {
  measured::MeasuredResult r;
  r.file = "layer.csv", r.column = "copper", r.unit = "um";
  r.rows = 243, r.values = 240, r.gaps = 1, r.below_limit = 2;
  r.step = 0.1;
  r.mean = 18.204, r.mean_uncertainty = 0.046, r.sd = 0.7114, r.sd_lower = 0.641, r.sd_upper = 0.789;
  r.smallest = 15.7, r.median = 18.2, r.largest = 20.4, r.skewness = 0.11;
  measured::ShapeRow best;
  best.name = "two-piece normal", best.line = "{value: 18 um +1.2/-2.1 um, shape: two-piece normal}";
  best.estimated = 3, best.aicc = 512.34, best.a_squared = 0.31, best.p_value = 0.005, best.simulated = true;
  best.lower_reach = 16.01, best.median = 18.21, best.upper_reach = 20.05;
  best.reach = {{{15.61, 16.43}, {18.05, 18.37}, {19.72, 20.48}}};
  measured::ShapeRow near = best;
  near.name = "normal", near.line = "{value: 18.2 um, sd: 0.7 um}", near.behind = 1.9, near.simulated = false;
  measured::ShapeRow far = best;
  far.name = "uniform", far.line = "{value: 15 .. 20 um, shape: uniform}", far.behind = 90.0, far.p_value = {};
  measured::ShapeRow none;
  none.name = "arcsine", none.obstacle = "it has no likeliest one";
  r.shapes = {best, near, far, none};
  r.bars = {{15.0, 16.0, 0, 2.0, 1.4}, {16.0, 17.0, 40, 40.0, 5.8}, {17.0, 18.0, 120, 90.0, 7.5}};
  r.groups = {{"lot", 6, 5, 4.79, 0.0947, 0.0763, 0.0228, 0.684, 0.215, {0.061, 0.656}},
              {"barrel", 30, 24, 0.31, -0.004, 0.012, 0.0, 0.0303, 0.0, {0.0, 0.07}},
              {"", 240, 210, 0.346, 0.346, 0.0338, 0.288, 0.423, 0.785, {0.32, 0.93}}};
  r.tails = {0.9804, 0.9876, 1756, 3.253, 15.9, 20.5};
  r.data_line = "{shape: measured, data: {file: layer.csv, column: copper, unit: um, smooth: true}}";
  r.group_line = "{value: 18.2 um, sd: 0.59 um, varies: [0.31 um per lot]}";
  r.draws = 199, r.seed = 1;
  return r;
}

}  // namespace

TEST_CASE("the text of a fit says what stands behind each of its figures") {
  const std::string text = reports::measured_text(invented(), {});
  for (const char* part :
       {"copper of layer.csv: 240 values in um, 1 gap, 2 below a limit", "mean 18.204 um",
        "steps of 0.1 um, as they are written", "<= 0.005 s", "Not fitted: arcsine: it has no likeliest one",
        "within barrel", "-0.004", "0.076", "A negative variance says", "98.04 %", "1 756",
        "Values of one unit of a group are alike", "there is no A2", "16.01 (15.61 to 16.43)", "18.21 (18.05 to 18.37)",
        "21.5 (6.1 to 65.6) %", "They do not tell that the shape"})
    CHECK_THAT(text, Contains(part));
  // Lines to paste are whole; shapes that do worse have none.
  CHECK_THAT(text, Contains("\n    {value: 18 um +1.2/-2.1 um, shape: two-piece normal}\n"));
  CHECK_THAT(text, Contains("normal, nearly as good:") && !Contains("15 .. 20 um"));
  // A bar as long as expected ends at its mark, a longer one goes through it.
  std::istringstream lines(text);
  std::size_t marks = 0;
  for (std::string line; std::getline(lines, line);) marks += line.find("##|##") != std::string::npos ? 1u : 0u;
  CHECK(marks == 1);
}

TEST_CASE("the text of a fit fits its width, but for the lines to copy") {
  std::istringstream lines(reports::measured_text(invented(), {72, false}));
  for (std::string line; std::getline(lines, line);)
    if (line.rfind("    {", 0) != 0) CHECK(line.size() <= 72);
}

TEST_CASE("a gauge that explains more than there is, and gauges that disagree, are told") {
  auto r = invented();
  r.gauge.emplace();
  r.gauge->measured_interval = {0.41, 0.62};
  r.gauge->measured_variance = 0.5, r.gauge->error_variance = 0.6, r.gauge->variance = -0.1;
  r.gauge->gauges = {{"copper", "bench", "bench.yaml", 0.2, 0.0, 0.1, 0.77, 4.0, 0.0, 1, 0.8, 3, -0.5, 0.1, 0.28}};
  r.shapes[0].line.clear();
  const std::string text = reports::measured_text(r, {});
  CHECK_THAT(text, Contains("what is left comes out as -0.1") && Contains("bench disagrees with the others") &&
                       Contains("3 readings lie outside") && Contains("nothing is left of its spread"));
  // Beyond twice the standard uncertainty, but that rests on few readings.
  r.gauge->gauges[0].difference = -0.25;
  CHECK_THAT(reports::measured_text(r, {}), !Contains("disagrees"));
  CHECK_THAT(reports::measured_page(r), !Contains("disagrees"));
}

TEST_CASE("what a gauge leaves of the variance stands with its interval, for its repeatability as stated") {
  auto r = invented();
  r.gauge.emplace();
  r.gauge->measured_variance = 0.5, r.gauge->measured_interval = {0.41, 0.62};
  r.gauge->error_variance = 0.09, r.gauge->variance = 0.41, r.gauge->interval = {0.32, 0.53};
  r.gauge->gauges = {{"copper", "bench", "bench.yaml", 0.2, 0.0, 0.1, 0.3, 0.0, 0.0, 1, 1.0, 0, {}, {}, {}}};
  CHECK_THAT(reports::measured_text(r, {200, false}),
             Contains("the sd is 0.64 um, 95 % interval 0.566 to 0.728 (readings 0.707, 0.64 to 0.787)"));
  const std::string page = reports::measured_page(r);
  CHECK_THAT(page, Contains("<data value=0.32>") && Contains("<data value=0.53>") && Contains("<data value=0.62>") &&
                       Contains("as stated"));
  const auto json = nlohmann::json::parse(reports::measured_json(r))["gauge"];
  CHECK(json["variance_left_interval_95"] == nlohmann::json({0.32, 0.53}));
  CHECK(json["measured_variance_interval_95"] == nlohmann::json({0.41, 0.62}));
  CHECK(json["gauges"][0]["repeatability_readings"].is_null());
  CHECK_THAT(reports::measured_text(r, {200, false}), Contains("by its repeatability as stated;"));
  r.gauge->gauges[0].freedom = 18.0;
  CHECK_THAT(reports::measured_text(r, {200, false}),
             Contains("by its repeatability of 19 readings, whose uncertainty is in the interval;"));
  // 0.3 / sqrt(36)
  CHECK_THAT(reports::measured_page(r), Contains("<data value=0.05>0.05</data> of <data value=19>19</data> readings"));
  CHECK(nlohmann::json::parse(reports::measured_json(r))["gauge"]["gauges"][0]["repeatability_readings"] == 19.0);
}

TEST_CASE("the mean stands with the uncertainty of the bias, and that with its degrees of freedom") {
  auto r = invented();
  r.gauge.emplace();
  r.gauge->measured_variance = 0.5, r.gauge->error_variance = 0.09, r.gauge->variance = 0.41;
  r.gauge->mean_uncertainty = 0.11, r.gauge->mean_interval = {17.925, 18.483};
  r.gauge->gauges = {{"copper", "bench", "bench.yaml", 0.2, 0.0, 0.1, 0.3, 4.0, 0.0, 1, 1.0, 0, {}, {}, {}}};
  const auto text = [&] { return reports::measured_text(r, {200, false}); };
  CHECK_THAT(text(), Contains("With the uncertainty of the bias (degrees of freedom: 4), the mean has a standard "
                              "uncertainty of 0.11 um, 95 % interval 17.925 to 18.483 um."));
  const std::string page = reports::measured_page(r);
  CHECK_THAT(page, Contains("<data value=0.1>0.1</data> of <data value=4>4</data> degrees of freedom") &&
                       Contains("<data value=17.925>") && Contains("<data value=18.483>"));
  const auto json = nlohmann::json::parse(reports::measured_json(r))["gauge"];
  CHECK(json["gauges"][0]["bias_degrees_of_freedom"] == 4.0);
  CHECK(json["mean_uncertainty"] == 0.11);
  CHECK(json["mean_interval_95"] == nlohmann::json({17.925, 18.483}));
  r.gauge->gauges[0].bias_freedom = 0.0;
  CHECK_THAT(text(), Contains("With the uncertainty of the bias, taken as known, the mean"));
  CHECK(nlohmann::json::parse(reports::measured_json(r))["gauge"]["gauges"][0]["bias_degrees_of_freedom"].is_null());
  r.gauge->gauges[0].bias_uncertainty = 0.0;
  CHECK_THAT(text(), !Contains("With the uncertainty of the bias"));
}

TEST_CASE("quantiles are told of shapes near the best, and without samples without an interval") {
  auto r = invented();
  // The far one, 90 behind, has its place in the ranks alone.
  const auto rows = [](const std::string& page) {
    std::size_t count = 0;
    const std::string row = "scope=row>99.865";
    for (std::size_t at = page.find(row); at != std::string::npos; at = page.find(row, at + 1)) ++count;
    return count;
  };
  const std::string page = reports::measured_page(r);
  CHECK(rows(page) == 2);
  CHECK_THAT(page, Contains("<data value=15.61>") && Contains("<data value=20.48>") && Contains("199 samples"));
  for (auto& shape : r.shapes) shape.reach.reset();
  CHECK_THAT(reports::measured_page(r), Contains("no samples were drawn") && !Contains("<data value=15.61>"));
  CHECK_THAT(reports::measured_text(r, {}), Contains("intervals are not known"));
  CHECK(nlohmann::json::parse(reports::measured_json(r))["shapes"][0]["quantile_intervals_95"].is_null());
}

TEST_CASE("the page of a fit holds its tables and drawings, and names as text only") {
  auto r = invented();
  r.file = "<b>.csv", r.pairs = {{15.9, 15.7, {15.2, 16.6}}, {18.2, 18.2, {18.1, 18.3}}, {20.2, 20.4, {19.7, 20.9}}};
  const std::string page = reports::measured_page(r);
  CHECK_THAT(page, Contains("&lt;b&gt;.csv") && !Contains("<b>"));
  for (const char* part :
       {"Values in each class, in µm", "Quantiles of data and fit", "the largest 20.4, expected 20.2", "within barrel",
        "arcsine is not fitted: it has no likeliest one", "two-piece normal fits best; normal does nearly as well.",
        "<data value=0.005>", "at most ", "no certificate", "href=\"#answer\"",
        "{value: 18 um +1.2/-2.1 um, shape: two-piece normal}"})
    CHECK_THAT(page, Contains(part));
  // Drawn only with what there is.
  r.pairs.clear();
  CHECK_THAT(reports::measured_page(r), !Contains("Quantiles of data and fit"));
  r.shapes.clear(), r.bars.clear();
  CHECK_THAT(reports::measured_page(r), Contains("No shape could be fitted.") && !Contains("<svg role"));
}

TEST_CASE("the JSON of a fit holds every figure, and null for those that do not exist") {
  auto r = invented();
  r.sd_upper = std::numeric_limits<double>::infinity();
  const auto json = nlohmann::json::parse(reports::measured_json(r));
  CHECK(json["format"] == "mintspread fit 1");
  CHECK(json["sd_interval_95"][1].is_null());
  CHECK(json["shapes"][0]["p_value_by"] == "simulation");
  CHECK(json["shapes"][2]["p_value"].is_null());
  CHECK(json["shapes"][3] == nlohmann::json({{"shape", "arcsine"}, {"not_fitted", "it has no likeliest one"}}));
  CHECK(json["groups"][1]["variance"] == -0.004);
  CHECK(json["groups"][2]["group"] == "within");
  CHECK(json["bars"][2]["expected"] == 90.0);
  CHECK(json["gauge"].is_null());
  CHECK(json["specification"]["by_group"] == r.group_line);
  CHECK(json["specification"]["values"] == r.data_line);
  CHECK(json["specification"]["values_obstacle"].is_null());
}

TEST_CASE("why there is no line for the values themselves is told in text, page and JSON") {
  auto r = invented();
  r.data_line = "", r.data_obstacle = "it reads fields separated by commas";
  const std::string reason = "since it reads fields separated by commas.";
  CHECK_THAT(reports::measured_text(r, {}), Contains(reason) && !Contains("smoothed:"));
  CHECK_THAT(reports::measured_page(r), Contains(reason));
  const auto lines = nlohmann::json::parse(reports::measured_json(r))["specification"];
  CHECK(lines["values"].is_null());
  CHECK(lines["values_obstacle"] == r.data_obstacle);
}
