#include "engine/signature/disc_radial.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>

#include "engine/base/constants.hpp"

namespace mintspread::signature {

namespace {

using Legendre = boost::math::quadrature::gauss<double, 20>;

/// Calls f(point, weight) at the 20 Gauss points of [-1, 1].
template <class Function>
void at_gauss_points(const Function& f) {
  for (std::size_t i = 0; i < Legendre::abscissa().size(); ++i) {
    f(-Legendre::abscissa()[i], Legendre::weights()[i]);
    f(Legendre::abscissa()[i], Legendre::weights()[i]);
  }
}

/// Shape functions of an element on [-1, 1] and their derivatives: left hat, bubbles (P_k - P_(k-2)) / sqrt(2 (2 k -
/// 1)) for k = 2 .. order, right hat. This is also their order as unknowns.
void shapes(double x, std::size_t order, AlignedReals& value, AlignedReals& slope) {
  value.resize(order + 1);
  slope.resize(order + 1);
  value[0] = 0.5 * (1.0 - x);
  slope[0] = -0.5;
  value[order] = 0.5 * (1.0 + x);
  slope[order] = 0.5;
  double before = 1.0, here = x;
  for (std::size_t k = 2; k <= order; ++k) {
    const double n = static_cast<double>(k);
    const double next = ((2.0 * n - 1.0) * x * here - (n - 1.0) * before) / n;
    value[k - 1] = (next - before) / std::sqrt(2.0 * (2.0 * n - 1.0));
    slope[k - 1] = here * std::sqrt(0.5 * (2.0 * n - 1.0));
    before = here;
    here = next;
  }
}

double distance(double r, double inner, double outer) { return std::max({0.0, inner - r, r - outer}); }

}  // namespace

DiscRadial::DiscRadial(const DiscSection& section, std::span<const DiscCoil> coils, std::complex<double> s,
                       const DiscMeshing& meshing)
    : section_(section), coils_(coils) {
  const double rim = section.radii.back().at;
  edge_scale_ = meshing.largest_edge_scale * rim;
  for (const auto& metal : section.metals) {
    const double skin = 1.0 / std::sqrt(0.5 * std::abs(s) * mu0 * metal.permeability * metal.conductivity);
    edge_scale_ = std::min(edge_scale_, meshing.edge_scale * skin);
  }
  edge_scale_ = std::max(edge_scale_, meshing.smallest_edge_scale * rim);

  double inner = 0.0, reach = rim;
  for (std::size_t i = 0; i < section.radii.size(); ++i) {
    const double outer = section.radii[i].at;
    // A thin ring sees fields that hardly change across it.
    const bool thin = outer - inner < 0.3 * edge_scale_;
    add_elements(inner, outer, i, thin ? std::max<std::size_t>(2, meshing.order / 2) : meshing.order, meshing.growth);
    inner = outer;
  }
  for (const auto& coil : coils) reach = std::max(reach, coil.coil.outer_radius + coil.gap);
  const double near = 2.5 * reach;
  add_elements(rim, near, section.radii.size(), meshing.order, meshing.growth);
  elements_.push_back({near, meshing.far_wall * reach, true, meshing.order + 3, section.radii.size(), 0, {}, {}});

  double smallest = std::numeric_limits<double>::infinity();
  std::ptrdiff_t next = -1;  // the hat on the axis is left out
  for (auto& element : elements_) {
    element.first_unknown = next;
    next += static_cast<std::ptrdiff_t>(element.order);
    width_ = std::max(width_, element.order);
    smallest = std::min(smallest, element.right - element.left);
    integrate(element);
  }
  size_ = static_cast<std::size_t>(next);  // the hat at the wall is left out
  largest_wave_number_ = 2.0 / std::max(smallest, 0.3 * edge_scale_);
}

/// The length over which the field changes at r: near an edge the depth to which it enters metals, near a coil its gap,
/// else the distance to either.
double DiscRadial::scale_at(double r) const {
  double scale = std::numeric_limits<double>::infinity();
  for (const auto& radius : section_.radii) scale = std::min(scale, edge_scale_ + std::abs(r - radius.at));
  for (const auto& coil : coils_)
    scale = std::min(scale, std::hypot(coil.gap, distance(r, coil.coil.inner_radius, coil.coil.outer_radius)));
  return scale;
}

/// Cuts an interval into elements of equal length in units of the local scale.
void DiscRadial::add_elements(double left, double right, std::size_t interval, std::size_t order, double growth) {
  constexpr std::size_t points = 400;
  AlignedReals sum(points + 1, 0.0);
  // Points are closer together near the ends, where the scale is small: r by a cosine.
  const auto place = [&](double t) { return left + 0.5 * (right - left) * (1.0 - std::cos(pi * t)); };
  for (std::size_t i = 0; i < points; ++i) {
    const double from = place(static_cast<double>(i) / points), to = place(static_cast<double>(i + 1) / points);
    sum[i + 1] = sum[i] + (to - from) / (growth * scale_at(0.5 * (from + to)));
  }
  const auto count = static_cast<std::size_t>(std::max(1.0, std::ceil(sum.back() - 0.15)));
  double begin = left;
  std::size_t at = 0;
  for (std::size_t i = 1; i <= count; ++i) {
    const double target = sum.back() * static_cast<double>(i) / static_cast<double>(count);
    while (at + 1 < points && sum[at + 1] < target) ++at;
    const double inside = (target - sum[at]) / (sum[at + 1] - sum[at]);
    const double end = i == count ? right : place((static_cast<double>(at) + inside) / points);
    elements_.push_back({begin, end, false, order, interval, 0, {}, {}});
    begin = end;
  }
}

void DiscRadial::integrate(Element& element) {
  const std::size_t count = element.order + 1;
  element.mass.assign(count * count, 0.0);
  element.stiffness.assign(count * count, 0.0);
  AlignedReals value, slope, curl(count);
  at_gauss_points([&](double x, double weight) {
    shapes(x, element.order, value, slope);
    double r, stretch;  // dr/dx
    if (element.inverse) {
      const double near = 1.0 / element.left, far = 1.0 / element.right;
      r = 1.0 / (near + 0.5 * (1.0 + x) * (far - near));
      stretch = 0.5 * (near - far) * r * r;
    } else {
      r = element.left + 0.5 * (1.0 + x) * (element.right - element.left);
      stretch = 0.5 * (element.right - element.left);
    }
    for (std::size_t i = 0; i < count; ++i) curl[i] = slope[i] / stretch + value[i] / r;
    const double area = weight * stretch * r;
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        element.mass[i * count + j] += area * value[i] * value[j];
        element.stiffness[i * count + j] += area * curl[i] * curl[j];
      }
  });
}

template <class Weight>
BandedReal DiscRadial::assemble(AlignedReals Element::*part, const Weight& weight) const {
  BandedReal matrix(size_, width_);
  for (const auto& element : elements_) {
    const double factor = weight(element);
    const std::size_t count = element.order + 1;
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        const std::ptrdiff_t row = element.first_unknown + static_cast<std::ptrdiff_t>(i);
        const std::ptrdiff_t column = element.first_unknown + static_cast<std::ptrdiff_t>(j);
        if (column < 0 || row >= static_cast<std::ptrdiff_t>(size_)) continue;
        matrix.lower(static_cast<std::size_t>(row), static_cast<std::size_t>(column)) +=
            factor * (element.*part)[i * count + j];
      }
  }
  return matrix;
}

BandedReal DiscRadial::mass(std::span<const std::size_t> profile) const {
  return assemble(&Element::mass, [&](const Element& element) {
    const std::size_t at = metal(element, profile);
    return at == DiscSection::air ? 1.0 : 1.0 / section_.metals[at].permeability;
  });
}

BandedReal DiscRadial::stiffness(std::span<const std::size_t> profile) const {
  return assemble(&Element::stiffness, [&](const Element& element) {
    const std::size_t at = metal(element, profile);
    return at == DiscSection::air ? 1.0 : 1.0 / section_.metals[at].permeability;
  });
}

BandedReal DiscRadial::conductance(std::span<const std::size_t> profile) const {
  return assemble(&Element::mass, [&](const Element& element) {
    const std::size_t at = metal(element, profile);
    return at == DiscSection::air ? 0.0 : section_.metals[at].conductivity;
  });
}

DiscRadial::Element DiscRadial::moved(const Element& element, double left, double right) const {
  Element result = element;
  result.left = left;
  result.right = right;
  integrate(result);
  return result;
}

/// Calls f(unknown, phi r dr) at Gauss points of the part of an element that lies within the winding.
template <class Function>
void DiscRadial::over_winding(const Element& element, double inner, double outer, const Function& f) const {
  const double from = std::max(inner, element.left), to = std::min(outer, element.right);
  if (from >= to) return;
  AlignedReals value, slope;
  at_gauss_points([&](double x, double weight) {
    const double r = from + 0.5 * (1.0 + x) * (to - from);
    const double t = element.inverse ? (1.0 / element.left - 1.0 / r) / (1.0 / element.left - 1.0 / element.right)
                                     : (r - element.left) / (element.right - element.left);
    shapes(2.0 * t - 1.0, element.order, value, slope);
    for (std::size_t i = 0; i <= element.order; ++i) {
      const std::ptrdiff_t unknown = element.first_unknown + static_cast<std::ptrdiff_t>(i);
      if (unknown >= 0 && unknown < static_cast<std::ptrdiff_t>(size_))
        f(static_cast<std::size_t>(unknown), 0.5 * (to - from) * weight * r * value[i]);
    }
  });
}

AlignedReals DiscRadial::moments(double inner, double outer) const {
  AlignedReals result(size_, 0.0);
  for (const auto& element : elements_)
    over_winding(element, inner, outer, [&](std::size_t i, double part) { result[i] += part; });
  return result;
}

std::complex<double> DiscRadial::moment(const Element& element, double inner, double outer,
                                        std::span<const std::complex<double>> y) const {
  std::complex<double> sum = 0.0;
  over_winding(element, inner, outer, [&](std::size_t i, double part) { sum += part * y[i]; });
  return sum;
}

double axial_spectrum(const DiscCoil& coil, double p) {
  return std::exp(-p * coil.gap) * -std::expm1(-p * coil.coil.length) / p;
}

}  // namespace mintspread::signature
