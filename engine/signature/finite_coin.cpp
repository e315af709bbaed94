#include "engine/signature/finite_coin.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstring>
#include <type_traits>
#include <utility>

#include "engine/base/contract.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

/// Flat bytes of numbers; the reader gives up at the first that is missing.
class Writer {
 public:
  template <class T>
  void number(T value) {
    static_assert(std::is_arithmetic_v<T>);
    const char* at = reinterpret_cast<const char*>(&value);
    bytes.append(at, sizeof value);
  }
  std::string bytes;
};

class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}
  template <class T>
  T number() {
    T value{};
    if (bytes_.size() < sizeof value) {
      sound_ = false;
      return value;
    }
    std::memcpy(&value, bytes_.data(), sizeof value);
    bytes_.remove_prefix(sizeof value);
    return value;
  }
  /// A count of things of so many bytes each; 0 when there cannot be so many.
  std::size_t count(std::size_t bytes_each) {
    const auto found = number<std::uint64_t>();
    if (found <= bytes_.size() / bytes_each) return static_cast<std::size_t>(found);
    sound_ = false;
    return 0;
  }
  bool finished() const { return sound_ && bytes_.empty(); }

 private:
  std::string_view bytes_;
  bool sound_ = true;
};

}  // namespace

double StateRange::coordinate(double x) const {
  if (half_width == 0.0) return 0.0;
  return (relative ? 2.0 * (x - centre) / (x + centre) : x - centre) / half_width;
}

double StateRange::value(double u) const {
  const double y = u * half_width;
  return relative ? centre * (2.0 + y) / (2.0 - y) : centre + y;
}

double StateRange::slope(double u) const {
  const double y = u * half_width;
  return relative ? centre * half_width * 4.0 / ((2.0 - y) * (2.0 - y)) : half_width;
}

std::vector<std::size_t> filled_coordinates(std::span<const StateRange> box) {
  std::vector<std::size_t> filled;
  std::size_t coordinate = 0;
  for (const StateRange& range : box) {
    if (range.half_width == 0.0) continue;
    if (range.filled) filled.push_back(coordinate);
    ++coordinate;
  }
  return filled;
}

FiniteCoin::FiniteCoin(DiscState state, std::vector<StateRange> box, statistics::SurfaceTerms terms,
                       std::vector<statistics::ResponseSurface> surfaces)
    : state_(std::move(state)), box_(std::move(box)), terms_(std::move(terms)), surfaces_(std::move(surfaces)) {
  for (std::size_t column = 0; column < box_.size(); ++column)
    if (box_[column].half_width > 0.0) varying_.push_back(column);
  const auto counts = [&](std::size_t term) {
    return std::ranges::any_of(surfaces_, [term](const auto& surface) { return surface.coefficients[term] != 0.0; });
  };
  std::vector<std::size_t> first, last;
  for (std::size_t t = 0; t < terms_.size(); ++t) (counts(t) ? first : last).push_back(t);
  counting_ = first.size();
  place_.resize(terms_.size());
  for (std::size_t i = 0; i < first.size(); ++i) place_[first[i]] = i;
  for (std::size_t i = 0; i < last.size(); ++i) place_[last[i]] = counting_ + i;
  coefficients_.reserve(2 * surfaces_.size() * counting_);
  for (const auto& surface : surfaces_) {
    for (const std::size_t t : first) coefficients_.push_back(surface.coefficients[t].real());
    for (const std::size_t t : first) coefficients_.push_back(surface.coefficients[t].imag());
  }
}

FiniteCoin::Scratch FiniteCoin::scratch(std::size_t lanes) const {
  return {Columns(state_.count(), lanes), Columns(varying_.size(), lanes), Columns(terms_.size(), lanes),
          Columns(2 * surfaces_.size(), lanes)};
}

void FiniteCoin::correct(Scratch& scratch, std::vector<Columns>& mutual, std::vector<Columns>& voltages,
                         std::span<const std::uint8_t> skip, std::span<std::uint8_t> outside) const {
  const std::size_t lanes = scratch.state.lanes();
  for (std::size_t column = 0; column < box_.size(); ++column) {
    const StateRange& range = box_[column];
    if (range.half_width > 0.0) continue;
    const std::span<const double> x = std::as_const(scratch.state)[column];
    for (std::size_t lane = 0; lane < lanes; ++lane)
      if (std::abs(x[lane] - range.centre) > 1e-9 * std::abs(range.centre)) outside[lane] = 1;
  }
  for (std::size_t i = 0; i < varying_.size(); ++i) {
    const StateRange range = box_[varying_[i]];
    const std::span<const double> x = std::as_const(scratch.state)[varying_[i]];
    const std::span<double> u = scratch.coordinates[i];
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const double at = range.coordinate(x[lane]);
      if (std::abs(at) > 1.0) outside[lane] = 1;
      // NaN passes both.
      u[lane] = at > 1.0 ? 1.0 : at < -1.0 ? -1.0 : at;
    }
  }
  terms_.values(scratch.coordinates, place_, scratch.terms);

  using Matrix = Eigen::Map<Eigen::MatrixXd, Eigen::Unaligned, Eigen::OuterStride<>>;
  using ConstMatrix = Eigen::Map<const Eigen::MatrixXd, Eigen::Unaligned, Eigen::OuterStride<>>;
  const auto rows = static_cast<Eigen::Index>(lanes);
  const auto inner = static_cast<Eigen::Index>(counting_);
  const auto columns = static_cast<Eigen::Index>(2 * surfaces_.size());
  const auto stride = [&](Columns& of) {
    return Eigen::OuterStride<>(of.count() > 1 ? of[1].data() - of[0].data() : rows);
  };
  const ConstMatrix terms(scratch.terms[0].data(), rows, inner, stride(scratch.terms));
  const ConstMatrix coefficients(coefficients_.data(), inner, columns, Eigen::OuterStride<>(inner));
  Matrix sums(scratch.sums[0].data(), rows, columns, stride(scratch.sums));
  sums.noalias() = terms * coefficients;

  std::size_t quantity = 0;
  const auto left_alone = [&](std::size_t lane) { return !skip.empty() && skip[lane] != 0; };
  for (Columns& group : mutual)
    for (std::size_t m = 0; m + 1 < group.count(); m += 2, ++quantity) {
      const std::span<double> real = group[m], imag = group[m + 1];
      const std::span<const double> a = std::as_const(scratch.sums)[2 * quantity],
                                    b = std::as_const(scratch.sums)[2 * quantity + 1];
      for (std::size_t lane = 0; lane < lanes; ++lane) {
        if (left_alone(lane)) continue;
        const Complex value =
            statistics::surface_value(surfaces_[quantity].form, {a[lane], b[lane]}, {real[lane], imag[lane]});
        real[lane] = value.real();
        imag[lane] = value.imag();
      }
    }
  for (Columns& group : voltages)
    for (std::size_t g = 0; g < group.count(); ++g, ++quantity) {
      const std::span<double> voltage = group[g];
      const std::span<const double> a = std::as_const(scratch.sums)[2 * quantity];
      for (std::size_t lane = 0; lane < lanes; ++lane)
        if (!left_alone(lane))
          voltage[lane] = statistics::surface_value(surfaces_[quantity].form, a[lane], voltage[lane]).real();
    }
  expect(quantity == surfaces_.size(), "a surface for every quantity of the sensor");
}

std::string FiniteCoin::bytes() const {
  Writer to;
  to.number<std::uint64_t>(box_.size());
  for (const StateRange& range : box_) {
    to.number(range.centre);
    to.number(range.half_width);
    to.number<std::uint8_t>(range.relative ? 1 : 0);
    to.number<std::uint8_t>(range.filled ? 1 : 0);
  }
  to.number<std::uint64_t>(terms_.cubic().size());
  for (const std::size_t coordinate : terms_.cubic()) to.number<std::uint64_t>(coordinate);
  to.number<std::uint64_t>(surfaces_.size());
  for (std::size_t q = 0; q < surfaces_.size(); ++q) {
    const auto& surface = surfaces_[q];
    to.number<std::uint8_t>(static_cast<std::uint8_t>(surface.form));
    to.number(surface.held_out_rms);
    to.number(surface.held_out_worst);
    to.number(surface.held_out_real);
    to.number(surface.held_out_imag);
    to.number<std::uint64_t>(surface.support_points);
    to.number(solver_error_[q]);
    for (const Complex& c : surface.coefficients) {
      to.number(c.real());
      to.number(c.imag());
    }
  }
  to.number<std::uint64_t>(solutions_);
  to.number<std::uint64_t>(failed_);
  return std::move(to.bytes);
}

std::shared_ptr<const FiniteCoin> FiniteCoin::from_bytes(std::string_view bytes, DiscState state) {
  Reader from(bytes);
  std::vector<StateRange> box(from.count(18));
  std::size_t varying = 0;
  for (StateRange& range : box) {
    range.centre = from.number<double>();
    range.half_width = from.number<double>();
    range.relative = from.number<std::uint8_t>() != 0;
    range.filled = from.number<std::uint8_t>() != 0;
    if (range.half_width > 0.0) ++varying;
  }
  std::vector<std::size_t> cubic(from.count(8));
  for (std::size_t& coordinate : cubic) coordinate = static_cast<std::size_t>(from.number<std::uint64_t>());
  const std::vector<std::size_t> filled = filled_coordinates(box);
  if (box.size() != state.count() || !std::ranges::is_sorted(cubic) || (!cubic.empty() && cubic.back() >= varying) ||
      !std::ranges::includes(cubic, filled))
    return nullptr;
  statistics::SurfaceTerms terms(varying, cubic, filled);
  std::vector<statistics::ResponseSurface> surfaces(from.count(16 * terms.size()));
  std::vector<double> solver_error;
  for (auto& surface : surfaces) {
    const auto form = from.number<std::uint8_t>();
    if (form > static_cast<std::uint8_t>(statistics::SurfaceForm::direct)) return nullptr;
    surface.form = static_cast<statistics::SurfaceForm>(form);
    surface.held_out_rms = from.number<double>();
    surface.held_out_worst = from.number<double>();
    surface.held_out_real = from.number<double>();
    surface.held_out_imag = from.number<double>();
    surface.support_points = static_cast<std::size_t>(from.number<std::uint64_t>());
    solver_error.push_back(from.number<double>());
    for (std::size_t t = 0; t < terms.size(); ++t) {
      const double real = from.number<double>();
      surface.coefficients.emplace_back(real, from.number<double>());
    }
  }
  FiniteCoin coin(std::move(state), std::move(box), std::move(terms), std::move(surfaces));
  coin.solver_error_ = std::move(solver_error);
  coin.solutions_ = static_cast<std::size_t>(from.number<std::uint64_t>());
  coin.failed_ = static_cast<std::size_t>(from.number<std::uint64_t>());
  if (!from.finished()) return nullptr;
  return std::make_shared<const FiniteCoin>(std::move(coin));
}

}  // namespace mintspread::signature
