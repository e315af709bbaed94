#include "reports/svg.hpp"

#include <algorithm>
#include <cmath>

#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

// A tenth of a unit is finer than a pixel on every screen.
std::string unit(double value) {
  std::string text = fixed(value, 1);
  if (text.size() > 2 && text.compare(text.size() - 2, 2, ".0") == 0) text.erase(text.size() - 2);
  return text;
}

std::string attribute(const char* name, double value) { return std::string(" ") + name + "=\"" + unit(value) + "\""; }

std::string styled(std::string_view style) { return style.empty() ? "" : " class=\"" + std::string(style) + "\""; }

}  // namespace

std::string escaped(std::string_view text) {
  std::string safe;
  for (const char c : text) {
    switch (c) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      case '\'':
        safe += "&apos;";
        break;
      default:
        // Control characters have no place in markup, not even escaped.
        safe += static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t' ? ' ' : c;
    }
  }
  return safe;
}

std::string shortened(const std::string& text, std::size_t most) {
  if (text.size() <= most) return text;
  std::size_t end = most - 1;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xc0) == 0x80) --end;
  return text.substr(0, end) + "…";
}

double Scale::operator()(double value) const {
  const double part = logarithmic ? std::log(value / from) / std::log(to / from) : (value - from) / (to - from);
  return at_from + part * (at_to - at_from);
}

double Scale::kept(double value) const { return (*this)(std::clamp(value, std::min(from, to), std::max(from, to))); }

Ticks round_ticks(double from, double to, int wanted) {
  Ticks ticks;
  if (!(to > from) || wanted < 1) return ticks;
  const double raw = (to - from) / wanted;
  const int exponent = static_cast<int>(std::floor(std::log10(raw)));
  const double power = std::pow(10.0, exponent);
  double step = 10.0 * power;
  for (const double multiple : {1.0, 2.0, 5.0}) {
    if (multiple * power >= raw * 0.999999) {
      step = multiple * power;
      break;
    }
  }
  ticks.places = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  const double first = std::ceil(from / step - 1e-9);
  for (double i = first; i * step <= to + 1e-9 * step && ticks.values.size() < 50; ++i)
    ticks.values.push_back(i * step);
  return ticks;
}

Drawing::Drawing(std::string id, double height, std::string_view title, std::string_view description)
    : id_(std::move(id)) {
  text_ = "<svg viewBox=\"0 0 " + unit(drawing_width) + " " + unit(height) + "\" role=\"img\" aria-labelledby=\"" +
          id_ + "-t " + id_ + "-d\"><title id=\"" + id_ + "-t\">" + escaped(title) + "</title><desc id=\"" + id_ +
          "-d\">" + escaped(description) + "</desc>\n";
}

void Drawing::points(const Points& points) {
  // Most lines are level or upright and short: a histogram's outline takes a third of the bytes when each step tells
  // how far it goes from the one before. Steps are between rounded places, so that nothing adds up.
  const auto tenths = [](double at) { return std::lround(10.0 * at); };
  const auto step = [](long by) {
    std::string text = unit(0.1 * static_cast<double>(by));
    if (const auto zero = text.find("0."); zero <= 1 && (zero == 0 || text[0] == '-')) text.erase(zero, 1);
    return text;
  };
  text_ += " d=\"";
  long last_x = 0, last_y = 0, level = 0;
  const auto end_level = [&] {
    if (level != 0) text_ += "h" + step(level);
    level = 0;
  };
  for (std::size_t i = 0; i < points.size(); ++i) {
    const long x = tenths(points[i].first), y = tenths(points[i].second), right = x - last_x, down = y - last_y;
    if (i == 0) {
      text_ += "M" + unit(0.1 * static_cast<double>(x)) + " " + unit(0.1 * static_cast<double>(y));
    } else if (down == 0 && right * level >= 0) {
      level += right;
    } else {
      end_level();
      if (down == 0)
        level = right;
      else if (right == 0)
        text_ += "v" + step(down);
      else
        text_ += "l" + step(right) + " " + step(down);
    }
    last_x = x;
    last_y = y;
  }
  end_level();
}

void Drawing::polygon(const Points& corners, std::string_view style) {
  if (corners.empty()) return;
  text_ += "<path" + styled(style);
  points(corners);
  text_ += "Z\"/>\n";
}

void Drawing::polyline(const Points& corners, std::string_view style) {
  if (corners.empty()) return;
  text_ += "<path" + styled(style);
  points(corners);
  text_ += "\"/>\n";
}

void Drawing::line(double x1, double y1, double x2, double y2, std::string_view style) {
  polyline({{x1, y1}, {x2, y2}}, style);
}

void Drawing::rectangle(double x, double y, double width, double height, std::string_view style) {
  text_ += "<rect" + styled(style) + attribute("x", x) + attribute("y", y) + attribute("width", width) +
           attribute("height", height) + "/>\n";
}

void Drawing::circle(double x, double y, double radius, std::string_view style) {
  text_ += "<circle" + styled(style) + attribute("cx", x) + attribute("cy", y) + attribute("r", radius) + "/>\n";
}

void Drawing::diamond(double x, double y, double radius, std::string_view style) {
  polygon({{x, y - radius}, {x + radius, y}, {x, y + radius}, {x - radius, y}}, style);
}

// Whole units: marks are several units large, and there are hundreds of them.
void Drawing::marks(const Points& places, std::string_view shape, std::string_view style) {
  if (places.empty()) return;
  text_ += "<path" + styled(style) + " d=\"";
  for (const auto& [x, y] : places) text_ += "M" + fixed(x, 0) + " " + fixed(y, 0) + std::string(shape);
  text_ += "\"/>\n";
}

void Drawing::dots(const Points& places, std::string_view style) { marks(places, "h0", style); }
void Drawing::crosses(const Points& places, std::string_view style) { marks(places, "m-4-4l8 8m0-8l-8 8", style); }
void Drawing::diamonds(const Points& places, std::string_view style) { marks(places, "m0-5l5 5-5 5-5-5z", style); }

void Drawing::text(double x, double y, Anchor anchor, std::string_view words, std::string_view style) {
  std::string classes(style);
  if (anchor == Anchor::middle) classes += classes.empty() ? "m" : " m";
  if (anchor == Anchor::end) classes += classes.empty() ? "e" : " e";
  text_ += "<text" + styled(classes) + attribute("x", x) + attribute("y", y) + ">" + escaped(words) + "</text>\n";
}

void Drawing::bracket(double x1, double x2, double y, bool open_left, bool open_right, std::string_view style) {
  constexpr double stop = 9.0, arrow = 5.0;
  Points corners;
  if (open_left) {
    polyline({{x1 + arrow, y - arrow}, {x1, y}, {x1 + arrow, y + arrow}}, style);
  } else {
    corners.emplace_back(x1, y - stop);
  }
  corners.emplace_back(x1, y);
  corners.emplace_back(x2, y);
  if (open_right) {
    polyline({{x2 - arrow, y - arrow}, {x2, y}, {x2 - arrow, y + arrow}}, style);
  } else {
    corners.emplace_back(x2, y - stop);
  }
  polyline(corners, style);
}

void Drawing::ruler(const Scale& scale, const Ticks& ticks, double y) {
  line(scale.at_from, y, scale.at_to, y, "axis");
  for (const double value : ticks.values) {
    const double x = scale(value);
    line(x, y, x, y + 5, "axis");
    const std::string label = fixed(value, ticks.places);
    // Digits are wider than letters are on average.
    const double half = 0.65 * letter_width * static_cast<double>(label.size());
    const Anchor anchor = x - half < 0 ? Anchor::start : x + half > drawing_width ? Anchor::end : Anchor::middle;
    text(anchor == Anchor::start ? 0
         : anchor == Anchor::end ? drawing_width
                                 : x,
         y + text_line - 3, anchor, label, "soft");
  }
}

std::string Drawing::take() { return std::move(text_) + "</svg>"; }

}  // namespace mintspread::reports
