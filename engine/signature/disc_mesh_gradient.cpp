#include "engine/signature/disc_mesh_gradient.hpp"

#include "engine/base/constants.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

Complex product(Complex a, Complex b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

}  // namespace

ElementWeights::ElementWeights(const DiscRadial& radial) {
  std::size_t total = 0;
  for (const auto& element : radial.elements()) total += (element.order + 1) * (element.order + 1);
  mass.assign(total, 0.0);
  stiffness.assign(total, 0.0);
}

void ElementWeights::add(const DiscRadial& radial, Complex of_mass, Complex of_stiffness, const AlignedComplex& x,
                         const AlignedComplex& y) {
  at_entries(radial, [&](std::size_t at, std::size_t i, std::size_t j) {
    Complex entry = product(x[i], y[j]);
    if (i != j) entry += product(x[j], y[i]);
    mass[at] += product(of_mass, entry);
    stiffness[at] += product(of_stiffness, entry);
  });
}

MeshGradient::MeshGradient(const DiscSystem& system, std::size_t layers) : system_(system), layers_(layers) {
  for (const auto& element : system_.radial.elements()) {
    const double step = 1e-4 * (element.right - element.left);
    const auto difference = [&](double left, double right, AlignedReals& mass, AlignedReals& stiffness) {
      const auto up = system_.radial.moved(element, element.left + left, element.right + right);
      const auto down = system_.radial.moved(element, element.left - left, element.right - right);
      for (std::size_t i = 0; i < up.mass.size(); ++i) {
        mass.push_back((up.mass[i] - down.mass[i]) / (2.0 * step));
        stiffness.push_back((up.stiffness[i] - down.stiffness[i]) / (2.0 * step));
      }
    };
    Change change;
    // The axis does not move.
    difference(element.left > 0.0 ? step : 0.0, 0.0, change.left_mass, change.left_stiffness);
    difference(0.0, step, change.right_mass, change.right_stiffness);
    changes_.push_back(std::move(change));
  }
}

/// The mesh follows its radii: linearly between two of them, fading out between the coin and the far element.
void MeshGradient::add_radii(const AlignedComplex& left, const AlignedComplex& right, AlignedComplex& lengths) const {
  const auto& elements = system_.radial.elements();
  const auto& radii = system_.section.radii;
  const double near = elements.back().left;
  for (std::size_t e = 0; e + 1 < elements.size(); ++e) {
    const double node = elements[e].right;
    const std::size_t interval = elements[e].interval;
    const Complex sensitivity = right[e] + left[e + 1];
    const auto add = [&](std::size_t radius, double share) {
      for (std::size_t i = 0; i < lengths.size(); ++i) lengths[i] += share * radii[radius].slope[i] * sensitivity;
    };
    if (interval == radii.size()) {
      add(radii.size() - 1, (near - node) / (near - radii.back().at));
      continue;
    }
    const double inner = interval == 0 ? 0.0 : radii[interval - 1].at, outer = radii[interval].at;
    const double share = (node - inner) / (outer - inner);
    add(interval, share);
    if (interval > 0) add(interval - 1, 1.0 - share);
  }
}

DiscGradient MeshGradient::of(const DiscSensitivity& sensitivity) const {
  const auto& elements = system_.radial.elements();
  const auto& metals = system_.section.metals;
  const Complex frequency = system_.s * mu0;
  AlignedComplex left = sensitivity.left, right = sensitivity.right, lengths = sensitivity.lengths;
  std::vector<DiscGradient::Metal> by_metal(metals.size());
  for (std::size_t kind = 0; kind < sensitivity.weights.size(); ++kind) {
    const auto& weights = sensitivity.weights[kind];
    std::size_t start = 0;
    for (std::size_t e = 0; e < elements.size(); ++e) {
      const auto& element = elements[e];
      const std::size_t entries = element.mass.size();
      const auto sum = [&](const AlignedComplex& weight, const AlignedReals& change) {
        Complex total = 0.0;
        for (std::size_t i = 0; i < entries; ++i) total += weight[start + i] * change[i];
        return total;
      };
      const std::size_t metal = kind < system_.section.profiles.size()
                                    ? DiscRadial::metal(element, system_.section.profiles[kind])
                                    : DiscSection::air;
      double reluctivity = 1.0;
      Complex loss = 0.0;
      if (metal != DiscSection::air) {
        reluctivity = 1.0 / metals[metal].permeability;
        loss = frequency * metals[metal].conductivity;
        by_metal[metal].conductivity += frequency * sum(weights.stiffness, element.mass);
        by_metal[metal].permeability -=
            reluctivity * reluctivity * (sum(weights.mass, element.mass) + sum(weights.stiffness, element.stiffness));
      }
      const Change& change = changes_[e];
      left[e] += reluctivity * (sum(weights.mass, change.left_mass) + sum(weights.stiffness, change.left_stiffness)) +
                 loss * sum(weights.stiffness, change.left_mass);
      right[e] +=
          reluctivity * (sum(weights.mass, change.right_mass) + sum(weights.stiffness, change.right_stiffness)) +
          loss * sum(weights.stiffness, change.right_mass);
      start += entries;
    }
  }
  add_radii(left, right, lengths);

  const double scale = 2.0 * pi / mu0;
  for (auto& length : lengths) length *= scale;
  for (auto& metal : by_metal) metal = {scale * metal.conductivity, scale * metal.permeability};
  DiscGradient result{lengths[0], lengths[1],  lengths[2], lengths[3],
                      lengths[4], by_metal[0], {},         {sensitivity.gaps.begin(), sensitivity.gaps.end()}};
  for (auto& gap : result.gaps) gap *= scale;
  for (std::size_t i = 0; i < layers_; ++i) {
    const Complex* const at = lengths.data() + disc_lengths + disc_layer_lengths * i;
    result.layers.push_back({at[0], at[1], at[2], at[3], at[4], by_metal[i + 1]});
  }
  return result;
}

}  // namespace mintspread::signature
