#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr double plane_left = 96.0, plane_right = 600.0, plane_top = 40.0, plane_bottom = 330.0;

// Lines are told apart by dash, hue and the name at their end.
std::string line_style(std::size_t position) { return "series series" + std::to_string(position % 4 + 1); }

// X0, the drive coil's reactance in air.
double air_reactance(const ImpedanceRow& row) { return row.reactance / row.normalised_reactance; }

// The ellipse that holds 95 % of a two-dimensional normal distribution: 2 ln 20 is the 95 % quantile of the chi-squared
// distribution with two degrees of freedom. In normalised values.
Points ellipse(const ImpedanceRow& row) {
  Points points;
  const double x0 = air_reactance(row);
  if (!row.spread || !std::isfinite(row.spread->correlation.value) || !(std::abs(x0) > 0.0)) return points;
  const PlaneSpread& s = *row.spread;
  const double reach = std::sqrt(2.0 * std::log(20.0)) / x0, r = s.correlation.value;
  constexpr int corners = 48;
  for (int i = 0; i < corners; ++i) {
    const double turn = 2.0 * std::numbers::pi * i / corners, a = std::cos(turn);
    points.emplace_back(
        s.resistance.value / x0 + reach * s.sd_resistance.value * a,
        s.reactance.value / x0 + reach * s.sd_reactance.value * (r * a + std::sqrt(1.0 - r * r) * std::sin(turn)));
  }
  return points;
}

struct Ends {
  double lower = 1e300, upper = -1e300;
  void include(double value) {
    lower = std::min(lower, value);
    upper = std::max(upper, value);
  }
  void widen(double part) {
    const double span = upper > lower ? upper - lower : std::max(std::abs(upper), 1e-12);
    lower -= part * span;
    upper += part * span;
  }
};

void frame(Drawing& drawing, const Scale& x, const Scale& y, const Ticks& across, const Ticks& up,
           const std::string& x_name, const std::string& y_name) {
  for (const double value : up.values) {
    drawing.line(plane_left, y(value), plane_right, y(value), "hair");
    drawing.text(plane_left - 6, y(value) + 6, Anchor::end, fixed(value, up.places), "soft");
  }
  drawing.ruler(x, across, plane_bottom);
  drawing.text(0, 18, Anchor::start, y_name, "soft");
  drawing.text(drawing_width, plane_bottom + 2 * text_line, Anchor::end, x_name, "soft");
}

// Labels beside points, moved up or down until they are free of each other at the largest letters of the style sheet.
class Labels {
 public:
  /// What no label may cover.
  void keep_free(const Points& places) { kept_free_.insert(kept_free_.end(), places.begin(), places.end()); }
  void add(double x, double y, double room, bool right, const std::string& words) {
    const double width = letter_width * static_cast<double>(words.size());
    Placed best{};
    for (const double shift : {0.0, -0.9, 0.9, -1.8, 1.8, -2.7, 2.7, -3.6, 3.6, -4.5, 4.5}) {
      for (const bool at_right : {right, !right}) {
        const double left = at_right ? x + room : x - room - width;
        best = {left, y + 5 + shift * text_line, width, at_right, words, x, y};
        if (left >= plane_left && left + width <= drawing_width && best.y > 1.8 * text_line && best.y < plane_bottom &&
            is_free(best)) {
          placed_.push_back(best);
          return;
        }
      }
    }
    placed_.push_back(best);
  }
  void draw(Drawing& drawing) const {
    for (const auto& label : placed_) {
      const double end = label.right ? label.left - 3.0 : label.left + label.width + 3.0, middle = label.y - 5.0;
      if (std::abs(middle - label.of_y) > 1.2 * text_line) drawing.line(label.of_x, label.of_y, end, middle, "leader");
      drawing.text(label.right ? label.left : label.left + label.width, label.y,
                   label.right ? Anchor::start : Anchor::end, label.words);
    }
  }

 private:
  struct Placed {
    double left, y, width;
    bool right;
    std::string words;
    double of_x, of_y;  // the point it belongs to
  };
  bool is_free(const Placed& one) const {
    return std::none_of(placed_.begin(), placed_.end(),
                        [&](const Placed& other) {
                          return one.left < other.left + other.width && other.left < one.left + one.width &&
                                 std::abs(one.y - other.y) < 0.85 * text_line;
                        }) &&
           std::none_of(kept_free_.begin(), kept_free_.end(), [&](const auto& place) {
             return place.first > one.left - 4.0 && place.first < one.left + one.width + 4.0 &&
                    place.second > one.y - 0.75 * text_line && place.second < one.y + 0.35 * text_line;
           });
  }
  std::vector<Placed> placed_;
  Points kept_free_;
};

std::vector<std::string> names(const auto& rows, const auto& keep) {
  std::vector<std::string> list;
  for (const auto& row : rows) {
    if (keep(row) && std::find(list.begin(), list.end(), row.coils) == list.end()) list.push_back(row.coils);
  }
  return list;
}

// Ticks at powers of ten, where there are few also at 2 and 5 of them, as plain numbers of the axis' unit.
void decades(Drawing& drawing, const Scale& scale, bool vertical) {
  const int first = static_cast<int>(std::ceil(std::log10(scale.from) - 1e-9)),
            last = static_cast<int>(std::floor(std::log10(scale.to) + 1e-9));
  std::vector<double> ticks;
  for (int exponent = first - 1; exponent <= last; ++exponent) {
    for (const double step : {1.0, 2.0, 5.0}) {
      const double value = step * std::pow(10.0, exponent);
      if ((step > 1.0 && last - first > 1) || value < scale.from * (1 - 1e-9) || value > scale.to * (1 + 1e-9))
        continue;
      ticks.push_back(value);
    }
  }
  for (const double value : ticks) {
    const double at = scale(value);
    const std::string label = significant(value);
    if (vertical) {
      drawing.line(plane_left, at, plane_right, at, "hair");
      drawing.text(plane_left - 6, at + 6, Anchor::end, label, "soft");
    } else {
      drawing.line(at, plane_top, at, plane_bottom, "hair");
      drawing.text(at, plane_bottom + text_line - 3, Anchor::middle, label, "soft");
    }
  }
}

}  // namespace

std::string draw_impedance(const NominalCoin& coin, const std::string& id) {
  const auto drawn = [](const ImpedanceRow& row) {
    return !row.through && std::isfinite(row.normalised_resistance) && std::isfinite(row.normalised_reactance);
  };
  const auto coils = names(coin.impedances, drawn);
  if (coils.empty()) return {};
  Ends across, up;
  std::string description =
      "Nominal impedance change over the drive coil's reactance in air, resistive part across, reactive part up.";
  for (const auto& row : coin.impedances) {
    if (!drawn(row)) continue;
    across.include(row.normalised_resistance);
    up.include(row.normalised_reactance);
    for (const auto& [resistance, reactance] : ellipse(row)) across.include(resistance), up.include(reactance);
    description += " " + row.coils + " at " + with_prefix(row.frequency, "Hz") + ": " +
                   fixed(row.normalised_resistance, 4) + ", " + fixed(row.normalised_reactance, 4) + ".";
  }
  across.widen(0.25);
  up.widen(0.12);
  const Scale x{across.lower, across.upper, plane_left, plane_right}, y{up.lower, up.upper, plane_bottom, plane_top};
  Drawing drawing(id, plane_bottom + 2 * text_line + 8, "Impedance over frequency", description);
  frame(drawing, x, y, round_ticks(across.lower, across.upper, 4), round_ticks(up.lower, up.upper, 5),
        "resistive change / X0", "reactive change / X0");
  Labels labels;
  for (const auto& row : coin.impedances) {
    if (drawn(row)) labels.keep_free({{x(row.normalised_resistance), y(row.normalised_reactance)}});
  }
  for (std::size_t i = 0; i < coils.size(); ++i) {
    std::vector<const ImpedanceRow*> rows;
    for (const auto& row : coin.impedances) {
      if (drawn(row) && row.coils == coils[i]) rows.push_back(&row);
    }
    std::stable_sort(rows.begin(), rows.end(),
                     [](const auto* a, const auto* b) { return a->frequency < b->frequency; });
    for (const auto* row : rows) {
      Points around = ellipse(*row);
      for (auto& [a, b] : around) a = x(a), b = y(b);
      drawing.polygon(around, line_style(i) + " spread");
    }
    Points points;
    for (const auto* row : rows) points.emplace_back(x(row->normalised_resistance), y(row->normalised_reactance));
    drawing.polyline(points, line_style(i));
    for (std::size_t j = 0; j < rows.size(); ++j) {
      drawing.circle(points[j].first, points[j].second, 4.5, line_style(i) + " dot");
      double room = 11.0;
      for (const auto& corner : ellipse(*rows[j]))
        room = std::max(room, std::abs(x(corner.first) - points[j].first) + 5);
      // The label stands on the side its neighbours do not lie on, where it can.
      const auto& before = points[j == 0 ? std::min<std::size_t>(1, points.size() - 1) : j - 1];
      const auto& after = points[j + 1 < points.size() ? j + 1 : j == 0 ? 0 : j - 1];
      std::string words = with_prefix(rows[j]->frequency, "Hz");
      if (j == 0 && coils.size() > 1) words = coils[i] + ", " + words;
      labels.add(points[j].first, points[j].second, room, points[j].first >= 0.5 * (before.first + after.first), words);
    }
  }
  labels.draw(drawing);
  return drawing.take();
}

std::string draw_decay(const NominalCoin& coin, const std::string& id) {
  const auto drawn = [](const DecayRow& row) {
    return row.time > 0.0 && std::isfinite(row.voltage) && row.voltage != 0.0;
  };
  const auto coils = names(coin.decays, drawn);
  if (coils.empty()) return {};
  Ends time, size;
  std::string description = "Nominal voltage at each decay gate.";
  for (const auto& row : coin.decays) {
    if (!drawn(row)) continue;
    time.include(row.time * 1e6);
    size.include(std::abs(row.voltage) * 1e3);
    if (row.mean && row.sd) {
      const double centre = std::abs(row.mean->value) * 1e3, reach = 3e3 * row.sd->value;
      size.include(centre + reach);
      if (centre > 1.2 * reach) size.include(centre - reach);
    }
    description +=
        " " + row.coils + " at " + with_prefix(row.time, "s") + ": " + with_prefix(row.voltage, "V", 4) + ".";
  }
  const Scale x{time.lower / 2, time.upper * 4, plane_left, plane_right, true};
  const Scale y{size.lower / 1.6, size.upper * 1.6, plane_bottom, plane_top, true};
  Drawing drawing(id, plane_bottom + 2 * text_line + 8, "Decay and its gates", description);
  decades(drawing, x, false);
  decades(drawing, y, true);
  drawing.line(plane_left, plane_bottom, plane_right, plane_bottom, "axis");
  drawing.text(0, 18, Anchor::start, "voltage / mV", "soft");
  drawing.text(drawing_width, plane_bottom + 2 * text_line, Anchor::end, "time / µs", "soft");
  for (std::size_t i = 0; i < coils.size(); ++i) {
    Points points;
    for (const auto& row : coin.decays) {
      if (drawn(row) && row.coils == coils[i])
        points.emplace_back(x.kept(row.time * 1e6), y.kept(std::abs(row.voltage) * 1e3));
    }
    std::sort(points.begin(), points.end());
    drawing.polyline(points, line_style(i));
    for (const auto& row : coin.decays) {
      if (!drawn(row) || row.coils != coils[i]) continue;
      if (row.mean && row.sd) {
        // Logarithmic: what reaches zero or beyond ends at the scale's lower end.
        const double centre = std::abs(row.mean->value), reach = 3.0 * row.sd->value, at_time = x.kept(row.time * 1e6);
        drawing.line(at_time, y.kept(std::max(y.from, (centre - reach) * 1e3)), at_time, y.kept((centre + reach) * 1e3),
                     line_style(i) + " reach");
      }
      const double at = y.kept(std::abs(row.voltage) * 1e3), middle = x.kept(row.time * 1e6);
      const double from = x.kept(std::max(x.from, (row.time - 0.5 * row.width) * 1e6)),
                   to = x.kept((row.time + 0.5 * row.width) * 1e6);
      drawing.rectangle(from, at - 4, std::max(3.0, to - from), 8,
                        line_style(i) + (row.voltage < 0.0 ? " hollow" : " dot"));
      drawing.text(middle + 12, at - 10, Anchor::start,
                   typeset(with_prefix(row.time, "s")) + (row.voltage < 0.0 ? ", negative" : ""));
    }
    if (coils.size() > 1 && !points.empty()) {
      drawing.text(points.front().first + 12, points.front().second + 20, Anchor::start, coils[i]);
    }
  }
  return drawing.take();
}

}  // namespace mintspread::reports
