#include "reports/page.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "reports/figures.hpp"
#include "reports/json.hpp"
#include "reports/numbers.hpp"
#include "tests/reports/golden.hpp"
#include "tests/reports/invented.hpp"

using Catch::Matchers::Contains;
using namespace mintspread;
using namespace mintspread::reports;
using reports_tests::check_golden;
using reports_tests::invented_result;
using reports_tests::invented_solid_result;

namespace {

void collect(const nlohmann::json& node, std::set<std::string>& numbers) {
  if (node.is_number()) numbers.insert(carried(node.get<double>()));
  if (node.is_structured()) {
    for (const auto& child : node) collect(child, numbers);
  }
}

struct Shown {
  std::string value, text, scale;
};

// What stands in `text` between `before` and `after`; empty when `before` does not occur.
std::string between(const std::string& text, const std::string& before, const std::string& after) {
  const auto at = text.find(before);
  if (at == std::string::npos) return {};
  const auto start = at + before.size();
  return text.substr(start, text.find(after, start) - start);
}

// <data value=5.6e-7 data-scale=1e6>0.56</data>, the scale not always.
std::vector<Shown> numbers_in(const std::string& page) {
  std::vector<Shown> list;
  for (auto at = page.find("<data "); at != std::string::npos; at = page.find("<data ", at + 1)) {
    const std::string element = page.substr(at, page.find("</data>", at) - at);
    const std::string tag = element.substr(0, element.find('>')) + " ";
    list.push_back({between(tag, " value=", " "), element.substr(tag.size()), between(tag, " data-scale=", " ")});
  }
  return list;
}

std::string without(std::string text, const std::string& what) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what)) text.erase(at, what.size());
  return text;
}

// Unsigned decimal numbers as they are written: "2.2" and "22" of "2.2 +/- 0.4 of 22 mm".
std::set<std::string> decimals_in(const std::string& text) {
  const auto digit = [&](std::size_t i) {
    return i < text.size() && std::isdigit(static_cast<unsigned char>(text[i]));
  };
  std::set<std::string> found;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const std::size_t start = i;
    while (digit(i)) ++i;
    if (i == start) continue;
    if (i < text.size() && text[i] == '.' && digit(i + 1)) {
      ++i;
      while (digit(i)) ++i;
    }
    found.insert(text.substr(start, i - start));
  }
  return found;
}

// What one unit of the text is in the unit of the file.
double unit_of(const std::string& text) {
  static const std::vector<std::pair<std::string, double>> units{
      {" %", 1e-2},  {" µm", 1e-6}, {" mm", 1e-3}, {" MS/m", 1e6}, {" kΩ", 1e3},
      {" mΩ", 1e-3}, {" µΩ", 1e-6}, {" nΩ", 1e-9}, {" Ω", 1.0},    {" µs", 1e-6},
      {" ns", 1e-9}, {" ms", 1e-3}, {" µV", 1e-6}, {" mV", 1e-3},  {" V", 1.0}};
  for (const auto& [suffix, size] : units) {
    if (text.size() > suffix.size() && text.compare(text.size() - suffix.size(), suffix.size(), suffix) == 0)
      return size;
  }
  return 1.0;
}

std::size_t occurrences(const std::string& text, const std::string& what) {
  std::size_t count = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++count;
  return count;
}

// Without tags, style sheet and definitions.
std::string visible_text(std::string page) {
  for (const auto& [start, stop] :
       {std::pair<std::string, std::string>{"<style>", "</style>"}, {"<defs>", "</defs>"}, {"<", ">"}}) {
    for (auto at = page.find(start); at != std::string::npos; at = page.find(start, at)) {
      page.replace(at, page.find(stop, at) + stop.size() - at, " ");
    }
  }
  return page;
}

// No line breaks at some of its blanks: here they are blanks like any other.
std::string with_plain_blanks(std::string page) {
  for (const std::string blank : {"\u00a0", "\u202f"}) {
    for (auto at = page.find(blank); at != std::string::npos; at = page.find(blank, at))
      page.replace(at, blank.size(), " ");
  }
  return page;
}

study::Result named(const std::string& name) {
  auto result = invented_result();
  result.coin = result.construction = result.note = result.sensor = name;
  for (auto& channel : result.channels) {
    channel.name = channel.kind = channel.unit = name;
    channel.marks = {name};
  }
  for (auto& set : result.windows) {
    set.machine_class = name;
    for (auto& criterion : set.criteria) criterion.name = criterion.expression = criterion.unit = name;
  }
  for (auto& input : result.inputs)
    input.path = input.step = input.name = input.understood = input.basis = input.level = name;
  for (auto& layer : result.nominal.layers) layer.name = layer.metal = name;
  for (auto& row : result.nominal.impedances) row.coils = name;
  for (auto& row : result.nominal.decays) row.coils = name;
  for (auto& target : result.targets) target.text = name;
  result.warnings = {name};
  result.provenance.specification_file = name;
  return result;
}

}  // namespace

TEST_CASE("Every number in the page's tables is a number of the JSON, rounded no further than its text shows") {
  for (const auto& result : {invented_result(), invented_solid_result()}) {
    std::set<std::string> known;
    collect(nlohmann::json::parse(result_json(result, Times::keep)), known);
    const auto shown = numbers_in(result_page(result));
    REQUIRE(shown.size() > 40);
    for (const auto& [value, text, scale] : shown) {
      INFO(text << " for " << value);
      CHECK(known.count(value) == 1);
      if (text == "all" || text == "none" || text.find("seen") != std::string::npos) continue;
      const bool bound = text.front() == '&';  // "&gt; 99.9996 %"
      if (bound) {
        CHECK((value == "0" || value == "1"));
        continue;
      }
      std::string digits = without(text, "\u202f");
      const double unit = scale.empty() ? unit_of(text) : 1.0 / std::stod(scale);
      if (!scale.empty()) CHECK((known.count(scale) == 1 || known.count(shortest(unit)) == 1));
      const double told = std::stod(digits) * unit;
      const auto dot = digits.find('.');
      const std::string number = digits.substr(0, digits.find_first_not_of("-0123456789."));
      int places = 0;
      if (dot != std::string::npos) places = static_cast<int>(number.size() - dot - 1);
      // One unit in the last place: bounds are rounded outwards, values to the nearest.
      // Without a point the zeros at the end may be rounding: "1230" for 1234.
      if (dot == std::string::npos)
        places = -static_cast<int>(std::distance(
            number.rbegin(), std::find_if(number.rbegin(), number.rend(), [](char c) { return c != '0'; })));
      if (number == "0") places = 0;
      const double last_place = std::pow(10.0, -places);
      CHECK(std::abs(told - std::stod(value)) <= 1.0001 * last_place * unit);
    }
  }
}

TEST_CASE("Names with markup stay text everywhere on the page") {
  const std::string evil = "<script>alert('x')</script>\"><img/src=x/onerror=\"y\">{{coin}}&amp;";
  const std::string page = result_page(named(evil));
  CHECK(page.find("<script") == std::string::npos);
  CHECK(page.find("<img") == std::string::npos);
  CHECK(page.find("onerror=\"") == std::string::npos);
  CHECK(page.find("&lt;script&gt;alert(&apos;x&apos;)") != std::string::npos);
  CHECK(page.find("&amp;amp;") != std::string::npos);
  CHECK(page.find("{{coin}}") != std::string::npos);
  // The same elements as with tame names.
  for (const char* element : {"<svg", "<table", "<li", "<td", "<text"}) {
    CHECK(occurrences(page, element) == occurrences(result_page(named("tame")), element));
  }
}

TEST_CASE("A page asks for nothing outside itself") {
  const std::string page = result_page(invented_result());
  for (const char* request : {"http:", "https:", "src=", "@import", "<script"})
    CHECK(page.find(request) == std::string::npos);
  CHECK(occurrences(page, "<link") == 1);
  CHECK(page.find("<link rel=\"icon\" href=\"data:,\">") != std::string::npos);
}

TEST_CASE("A channel whose planar value is known to be wrong is marked at its figure and in the lists") {
  const std::string page = result_page(invented_result());
  CHECK(occurrences(page, "Marked: through-transmission over a magnetic core") == 1);
  CHECK(page.find("core (marked)") != std::string::npos);
  CHECK(page.find("core: through-transmission over a magnetic core") != std::string::npos);
}

TEST_CASE("The first screen tells the verdict of each class with its interval, and the cautions are on the page") {
  const std::string page = with_plain_blanks(result_page(invented_result()));
  CHECK(page.find("vending accepts 98.907 % of the coins (95 % interval 98.886 to 98.928 %).") != std::string::npos);
  CHECK(page.find("counting accepts more than 99.99963 % of the coins: all of 999 998 computed pieces.") !=
        std::string::npos);
  for (const char* caution :
       {"no certificate of acceptance", "Nickel release is not assessed", "licensed practice", "confidential"}) {
    CHECK(page.find(caution) != std::string::npos);
  }
}

TEST_CASE("What is not known is said not to move a verdict that it does not move") {
  auto result = invented_result();
  result.windows[2].accepted.band = study::Band{1.0, 1.0};
  const std::string page = result_page(result);
  CHECK(page.find("What is not known does not move it.") != std::string::npos);
  CHECK(page.find("between all and all") == std::string::npos);
}

TEST_CASE("The criterion that rejects most stands first, whatever its kind") {
  auto result = invented_result();
  auto& relation = result.windows[0].criteria.back();
  REQUIRE(relation.relation);
  relation.accepted.value = 0.5;
  const std::string page = result_page(result);
  CHECK(page.find("<h2 id=\"s1-h\">skin over bulk") != std::string::npos);
  CHECK(page.find("<h2 id=\"s2-h\">skin: reactance") != std::string::npos);
}

TEST_CASE("A pair of channels is drawn with its windows, its relation and the pieces by their verdict") {
  auto result = invented_result();
  const std::string page = result_page(result);
  // skin over bulk joins the first two channels, which also reject most: one drawing.
  const std::string pairs = between(page, "<section id=\"pairs\"", "</section>");
  CHECK(occurrences(pairs, "<figure>") == 1);
  CHECK(occurrences(pairs, "class=\"relation\"") == 2);
  CHECK(occurrences(pairs, "class=\"window\"") == 4);
  const auto marks = [&](const std::string& style, const std::string& start) {
    return occurrences(between(pairs, "<path class=\"" + style + "\" d=\"", "\"/>"), start);
  };
  const auto& sample = result.joint->sample;
  std::set<std::uint64_t> here, vending;
  for (const auto& rejects : sample.rejects) {
    if (rejects.set != 0) continue;
    vending.insert(rejects.positions.begin(), rejects.positions.end());
    const bool drawn = rejects.criterion == 0 || rejects.criterion == 1 || rejects.criterion == 5;
    if (drawn) here.insert(rejects.positions.begin(), rejects.positions.end());
  }
  REQUIRE(here.size() > 10);
  REQUIRE(vending.size() > here.size());
  CHECK(marks("rejected", "M") == here.size());
  CHECK(marks("rejected beside", "M") == vending.size() - here.size());
  const auto fair_rejects = std::count_if(vending.begin(), vending.end(), [&](auto i) { return i < sample.fair; });
  CHECK(marks("dots", "M") == sample.fair - static_cast<std::size_t>(fair_rejects));
  CHECK(pairs.find("<data value=0.64>0.6400</data>") != std::string::npos);
  // A reading without a value has no place in the plane.
  result.joint->sample.readings[0][*here.begin()] = std::nan("");
  CHECK(occurrences(between(result_page(result), "<path class=\"rejected\" d=\"", "\"/>"), "M") == here.size() - 1);
  result.joint.reset();
  CHECK(result_page(result).find("<section id=\"pairs\"") == std::string::npos);
}

TEST_CASE("The page is small and the same each time") {
  const auto result = invented_result();
  const std::string page = result_page(result);
  CHECK(page.size() < 400000);
  CHECK(page == result_page(result));
}

TEST_CASE("A result with nothing in it still makes a page") {
  const std::string page = result_page(study::Result{});
  CHECK(page.find("No windows were given") != std::string::npos);
  CHECK(page.find("nan") == std::string::npos);
}

TEST_CASE("A customer's page is the same whatever the route, the layers and the inputs are") {
  const auto result = invented_result();
  auto other = result;
  other.note = "another note";
  other.warnings = {"another warning"};
  other.provenance.specification_file = "another/path.yaml";
  for (auto& input : other.inputs) {
    input.understood = "17.77 +/- 0.77 um";
    input.basis = "guess";
    input.level = "another lot";
    input.nominal *= 1.1;
    input.mean *= 1.2;
    input.sd *= 1.3;
  }
  for (auto& layer : other.nominal.layers)
    layer.thickness = layer.rim_thickness = layer.conductivity = layer.permeability = 3.3;
  other.nominal.mass = other.nominal.rim_width = other.nominal.diameter = 4.4;
  other.nominal.impedances.clear();
  other.nominal.decays.clear();
  const PageOptions customer{Audience::customer, Times::keep};
  CHECK(result_page(other, customer) == result_page(result, customer));
  CHECK(result_page(other) != result_page(result));
}

TEST_CASE("No construction word, path or number of the specification survives in a customer's page") {
  const auto result = invented_result();
  const std::string page = result_page(result, {Audience::customer, Times::keep});
  std::string visible = visible_text(page);
  for (char& c : visible) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  CHECK(visible.find("invented 22 mm") != std::string::npos);
  for (const char* word : {"nickel", "copper", "steel", "carbon", "layer", "plat", "anneal", "strike", "barrel",
                           "strip", "bath", "blank", "yaml", "permeability", "xrf"}) {
    INFO(word);
    CHECK(visible.find(word) == std::string::npos);
  }
  const auto shown = decimals_in(visible);
  for (const auto& input : result.inputs) {
    if (input.step == "sensor") continue;
    for (const auto& number : decimals_in(input.understood)) {
      // Numbers of one or two digits, and the 100 of "100 %", stand on any page.
      if (number.size() < 3 || number == "100") continue;
      INFO(input.path << ": " << number);
      CHECK(shown.count(number) == 0);
    }
  }
  for (const auto& layer : result.nominal.layers) {
    CHECK(shown.count(significant(layer.thickness * 1e6, 4)) == 0);
    CHECK(shown.count(significant(layer.rim_thickness * 1e6, 3)) == (layer.core ? shown.count("0") : 0));
  }
}

TEST_CASE("A customer's page still tells the verdicts, the marks and the cautions, and its numbers are the JSON's") {
  const auto result = invented_result();
  const std::string page = result_page(result, {Audience::customer, Times::keep});
  CHECK(with_plain_blanks(page).find("vending accepts 98.907 % of the coins") != std::string::npos);
  CHECK(page.find("core: the computed value is known to be wrong here") != std::string::npos);
  CHECK(page.find("no certificate of acceptance") != std::string::npos);
  std::set<std::string> known;
  collect(nlohmann::json::parse(result_json(result, Times::keep)), known);
  for (const auto& [value, text, scale] : numbers_in(page)) {
    INFO(text);
    CHECK(known.count(value) == 1);
  }
}

TEST_CASE("A coin named by its construction alone is called by the specification's hash on a customer's page") {
  auto result = invented_result();
  result.coin = "Nickel on copper";
  const std::string page = result_page(result, {Audience::customer, Times::keep});
  CHECK(page.find("<h1>Coin 6f1d0f5c8c1f</h1>") != std::string::npos);
}

TEST_CASE("A coin's state that tells of its inside is cut from a customer's page, another one stays") {
  const auto heading = [](const std::string& coin, const std::string& state) {
    auto result = invented_result();
    // As the reader makes it of `name` and `state`.
    result.state = state, result.coin = coin + ", " + state;
    const std::string page = with_plain_blanks(result_page(result, {Audience::customer, Times::keep}));
    const std::size_t start = page.find("<h1>") + 4;
    const std::string found = page.substr(start, page.find("</h1>") - start);
    // Nowhere else either, neither in the title nor in the record.
    CHECK((found == coin + ", " + state || page.find(state) == std::string::npos));
    return found;
  };
  CHECK(heading("Invented 22 mm", "after ten years") == "Invented 22 mm, after ten years");
  // Words of this specification, of any coin's inside, in capitals, in the plural, with a comma before them.
  for (const char* state :
       {"copper worn through", "worn to the core", "rim bare", "Outer Plating gone", "ten years, layers thinned",
        "zinc shows", "as struck", "low-carbon face", "over-annealed: annealing twice"}) {
    INFO(state);
    const std::string found = heading("Invented 22 mm", state);
    CHECK(found == (std::string(state).find("ten years") == 0 ? "Invented 22 mm, ten years" : "Invented 22 mm"));
  }
  // The engineer's page keeps it.
  auto result = invented_result();
  result.state = "worn to the core", result.coin = "Invented 22 mm, worn to the core";
  CHECK(result_page(result).find("worn to the core") != std::string::npos);
}

TEST_CASE("Coins are compared channel by channel, and a channel that only one coin has stands alone") {
  const std::vector<study::Result> coins = reports_tests::invented_coins();
  const std::string page = comparison_page(coins);
  CHECK(page.find("3 coins compared") != std::string::npos);
  CHECK(occurrences(page, "aria-labelledby=\"c") == 2 * coins.front().channels.size());
  std::set<std::string> known;
  for (const auto& coin : coins) collect(nlohmann::json::parse(result_json(coin, Times::keep)), known);
  const auto shown = numbers_in(page);
  CHECK(shown.size() > 100);
  for (const auto& [value, text, scale] : shown) {
    INFO(text);
    CHECK(known.count(value) == 1);
  }
  CHECK(comparison_page(std::vector<study::Result>(1)).find("<h1>1 coin</h1>") != std::string::npos);
}

TEST_CASE("A comparison says for each class what to do: choose, measure, simulate more, or give windows") {
  using study::Figure;
  auto coins = reports_tests::invented_coins();
  coins.resize(2, coins.front());
  for (auto& coin : coins) {
    coin.windows.resize(1);
    coin.windows[0].machine_class = "vending";
    for (auto& channel : coin.channels) channel.marks.clear();
  }
  const auto next = [&](Figure first, Figure second) {
    coins[0].windows[0].accepted = first, coins[1].windows[0].accepted = second;
    const std::string page = with_plain_blanks(comparison_page(coins));
    const std::size_t start = page.find("What to do next");
    return page.substr(start, page.find("</ol>", start) - start);
  };
  using study::Band;
  using study::Interval;
  CHECK_THAT(next({0.99, Interval{0.98, 0.995}, {}}, {0.97, Interval{0.96, 0.985}, {}}),
             Contains("For vending: the coins are not told apart"));
  CHECK_THAT(next({0.99, Interval{0.98, 0.995}, {}}, {0.5, Interval{0.49, 0.51}, {}}),
             Contains("For vending: A is accepted most and B least, where ") && Contains(": take A, or bring "));
  CHECK_THAT(next({0.5, Interval{0.49, 0.51}, Band{0.3, 0.8}}, {0.99, Interval{0.98, 0.995}, Band{0.7, 1.0}}),
             Contains("B is accepted most and A least, but what is not known moves them by more than that"));
  for (auto& coin : coins)
    for (auto& channel : coin.channels) channel.marks = {"wrong"};
  CHECK_THAT(next({0.5, Interval{0.49, 0.51}, {}}, {0.99, Interval{0.98, 0.995}, {}}),
             Contains("which is known to be wrong here: measure it on real pieces before choosing"));
  coins[1].sensor = "another bench";
  CHECK_THAT(next({0.5, Interval{0.49, 0.51}, {}}, {0.99, Interval{0.98, 0.995}, {}}),
             Contains("Have all coins read by one sensor"));
  for (auto& coin : coins) coin.windows.clear();
  CHECK_THAT(with_plain_blanks(comparison_page(coins)), Contains("Give the specifications windows"));
}

TEST_CASE("Rates that no lot exceeds, or that all do, are told once, and lots that reject all are told so") {
  auto result = invented_result();
  study::LotWindow window{"vending", {1.0, study::Interval{1.0, 1.0}, {}}, {}, {}};
  window.rejected = {{0.05, {0.9998, study::Interval{0.9989, 0.9998}, {}}},
                     {0.95, {1.0, study::Interval{1.0, 1.0}, {}}}};
  for (const double rate : {0.001, 0.01, 0.05}) window.chances.push_back({rate, {1.0, study::Interval{0.93, 1.0}, {}}});
  study::LotWindow other{"sorting", {0.002, study::Interval{0.001, 0.003}, {}}, {}, {}};
  other.chances = {{0.001, {0.6, study::Interval{0.5, 0.7}, {}}},
                   {0.01, {0.0, study::Interval{0.0, 0.07}, {}}},
                   {0.05, {0.0, study::Interval{0.0, 0.07}, {}}}};
  result.lots.emplace();
  result.lots->lot = "strip lot", result.lots->lots = 50, result.lots->windows = {window};
  std::string page = with_plain_blanks(result_page(result));
  CHECK(occurrences(page, ">chance of more than ") == 1);
  CHECK_THAT(page, Contains("chance of more than 5 %, so of any less") && Contains("<data value=1>all</data>") &&
                       Contains("Nearly every piece of every lot is rejected"));
  result.lots->windows.push_back(other);
  page = with_plain_blanks(result_page(result));
  CHECK(occurrences(page, ">chance of more than ") == 3);
  CHECK_THAT(page, Contains("chance of more than 0.1 %<") && Contains("chance of more than 1 %, so of any more") &&
                       !Contains("Nearly every piece"));
}

TEST_CASE("Windows that a class sets differently for the coins stand with the letters of theirs") {
  auto coins = reports_tests::invented_coins();
  coins.resize(2, coins.front());
  coins[1] = coins[0];
  CHECK_THAT(with_plain_blanks(comparison_page(coins)), !Contains("vending for "));
  auto& criteria = coins[1].windows[0].criteria;
  const auto moved = std::find_if(criteria.begin(), criteria.end(), [](const auto& one) { return one.channel; });
  REQUIRE(moved != criteria.end());
  moved->lower -= 7.0;
  coins.push_back(coins[0]);
  const std::string page = with_plain_blanks(comparison_page(coins));
  CHECK(occurrences(page, coins[0].windows[0].machine_class + " for A, C: ") == 1);
  CHECK(occurrences(page, coins[0].windows[0].machine_class + " for B: ") == 1);
}

TEST_CASE("States of one coin share a hue and a dash, from light to dark; another coin has its own") {
  auto coins = reports_tests::invented_coins();
  const std::string name = coins[0].coin;
  coins.push_back(coins[0]), coins.push_back(coins[0]);
  for (const std::size_t i : {2u, 3u, 4u}) {
    coins[i].state = i == 4 ? "ten years, <worn>" : std::to_string(i) + " years";
    coins[i].coin = name + ", " + coins[i].state;
  }
  coins[2].coin = "Another, 2 years";
  const std::string page = comparison_page(coins);
  const std::size_t drawings = occurrences(page, "aria-labelledby=\"c") / 2;
  // A curve and a line of quantiles in each drawing, which an undefined channel lacks; then the thick line.
  const auto drawn = [&](const std::string& style) { return occurrences(page, "class=\"" + style + "\""); };
  CHECK(drawn("series series1 state1") > drawings);
  CHECK(drawn("series series1 state2") == drawn("series series1 state1"));
  CHECK(drawn("series series1 state4") == drawn("series series1 state1"));
  CHECK(drawn("series series2") == drawn("series series1 state1"));
  CHECK(drawn("series series3") == drawn("series series1 state1"));
  CHECK(page.find("D as A, 3 years") != std::string::npos);
  CHECK(page.find("E as A, ten years, &lt;worn&gt;") != std::string::npos);
  CHECK(page.find("States of one coin have one hue") != std::string::npos);
  CHECK(comparison_page(reports_tests::invented_coins()).find("States of one coin") == std::string::npos);
}

TEST_CASE("The pages of the invented results are as stored") {
  check_golden("triple.html", result_page(invented_result(), {Audience::engineer, Times::leave_out}));
  check_golden("triple-customer.html", result_page(invented_result(), {Audience::customer, Times::leave_out}));
  check_golden("comparison.html", comparison_page(reports_tests::invented_coins(), Times::leave_out));
  check_golden("solid.html", result_page(invented_solid_result(), {Audience::engineer, Times::leave_out}));
}

TEST_CASE("the sublayers of a blurred boundary have one label in the section, ordinary layers each its own") {
  study::NominalCoin coin;
  coin.diameter = 22e-3, coin.thickness = 1.7e-3, coin.field_thickness = 1.7e-3;
  const auto layer = [&](const char* name, const char* metal, double thickness, bool core = false) {
    coin.layers.push_back({name, metal, thickness, thickness, 1e7, 1.0, core});
  };
  layer("nickel", "nickel", 4e-6);
  layer("copper into nickel, 1", "Cu-Ni", 2e-6);
  layer("copper into nickel, 2", "Cu-Ni", 3e-6);
  layer("copper", "copper", 10e-6);
  layer("steel", "steel", 1.6e-3, true);
  const std::string drawing = reports::draw_section(coin, "section");
  const auto count = [&](const std::string& text) {
    std::size_t found = 0;
    for (auto at = drawing.find(text); at != std::string::npos; at = drawing.find(text, at + 1)) ++found;
    return found;
  };
  CHECK(count(">copper into nickel<") == 1);
  CHECK(count("5 µm, rim 5 µm, cut in 2") == 1);
  CHECK(count(">copper<") == 1);
  CHECK(count("class=\"leader\"") == 4);
  CHECK(count("class=\"plate\"") == 5);
}
