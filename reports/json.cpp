#include "reports/json.hpp"

#include <cmath>
#include <concepts>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

#include "reports/fields.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

// Text of a result, two blanks an indentation, numbers of a list on one line. The library writes doubles with digits
// that are not always the shortest and cannot keep short lists on a line, so only its escaping of strings is used.
class Writer {
 public:
  explicit Writer(Times times) : times_(times) {}

  std::string take() { return std::move(text_) + "\n"; }

  void open() {
    text_ += "{";
    ++depth_;
    first_ = true;
  }
  void close() {
    --depth_;
    line();
    text_ += "}";
    first_ = false;
  }

  void member(std::string_view name, const auto& value) {
    if (times_ == Times::leave_out && is_time(name)) return;
    if constexpr (requires { value.has_value(); }) {
      if (value) member(name, *value);
    } else {
      key(name);
      write(value);
      if constexpr (std::same_as<std::remove_cvref_t<decltype(value)>, double>) {
        if (!std::isfinite(value)) {
          key(std::string(name) + "_status");
          write(std::string(std::isnan(value) ? "undefined" : value > 0 ? "infinite" : "minus infinite"));
        }
      }
    }
  }

 private:
  void line() {
    text_ += "\n";
    text_.append(2 * depth_, ' ');
  }
  void key(std::string_view name) {
    if (!first_) text_ += ",";
    first_ = false;
    line();
    text_ += quoted(name) + ": ";
  }

  static std::string quoted(std::string_view text) {
    return nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  }

  void write(const std::string& value) { text_ += quoted(value); }
  void write(const bool& value) { text_ += value ? "true" : "false"; }
  void write(const std::unsigned_integral auto& value) { text_ += std::to_string(value); }
  void write(const double& value) {
    if (!std::isfinite(value)) {
      text_ += "null";
    } else if (value == 0.0 && std::signbit(value)) {
      text_ += "-0.0";  // "-0" would be read back as the integer
    } else {
      text_ += shortest(value);
    }
  }

  void write(const study::ShareKind& kind) { text_ += quoted(share_kinds.at(static_cast<std::size_t>(kind))); }

  template <class T>
  void write(const std::vector<T>& list) {
    constexpr bool numbers = std::unsigned_integral<T> || std::same_as<T, double>;
    text_ += "[";
    ++depth_;
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (i != 0) text_ += numbers ? ", " : ",";
      if (!numbers) line();
      write(list[i]);
    }
    --depth_;
    if (!numbers && !list.empty()) line();
    text_ += "]";
  }

  void write(const auto& object) {
    open();
    each_field(object, [this](std::string_view name, const auto& value) { member(name, value); });
    close();
  }

  Times times_;
  std::string text_;
  std::size_t depth_ = 0;
  bool first_ = true;
};

std::string whole(const char* format, const auto& object, Times times) {
  Writer writer(times);
  writer.open();
  writer.member("format", std::string(format));
  writer.member("version",
                std::to_string(study::result_format_major) + "." + std::to_string(study::result_format_minor));
  each_field(object, [&](std::string_view name, const auto& value) { writer.member(name, value); });
  writer.close();
  return writer.take();
}

}  // namespace

std::string result_json(const study::Result& result, Times times) { return whole("mintspread result", result, times); }

std::string comparison_json(const study::Comparison& comparison) {
  return whole("mintspread comparison", comparison, Times::keep);
}

}  // namespace mintspread::reports
