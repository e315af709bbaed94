#include "engine/signature/disc_gradient.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/signature/disc_mesh_gradient.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;
using RealMap = Eigen::Map<const Eigen::MatrixXd>;

Complex product(Complex a, Complex b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

void add(ElementWeights& weights, const DiscRadial& radial, const Eigen::MatrixXcd& of_mass,
         const Eigen::MatrixXcd& of_stiffness) {
  at_entries(radial, [&](std::size_t at, std::size_t row, std::size_t column) {
    const auto i = static_cast<Index>(row), j = static_cast<Index>(column);
    weights.mass[at] += i == j ? of_mass(i, i) : of_mass(i, j) + of_mass(j, i);
    weights.stiffness[at] += i == j ? of_stiffness(i, i) : of_stiffness(i, j) + of_stiffness(j, i);
  });
}

template <class Number>
AlignedComplex times(const Banded<Number>& matrix, const AlignedComplex& x) {
  AlignedComplex result(x.size(), 0.0);
  for (std::size_t i = 0; i < x.size(); ++i)
    for (std::size_t j = matrix.first(i); j <= i; ++j) {
      result[i] += matrix.lower(i, j) * x[j];
      if (i != j) result[j] += matrix.lower(i, j) * x[i];
    }
  return result;
}

Complex dot(const AlignedComplex& x, const AlignedComplex& y) {
  Complex sum = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) sum += product(x[i], y[i]);
  return sum;
}

/// a function of x = p^2 and its derivative, at one mode
struct AtMode {
  double value, slope;
};

AtMode axial(const DiscCoil& coil, double p) {
  const double near = coil.gap, far = coil.gap + coil.coil.length;
  const double value = axial_spectrum(coil, p);
  return {value, ((far * std::exp(-p * far) - near * std::exp(-p * near)) / p - value / p) / (2.0 * p)};
}

/// g_i g_j / p of two coils: their mutual inductance in air by modes.
AtMode direct(const DiscCoil& one, const DiscCoil& other, double p) {
  const AtMode a = axial(one, p), b = axial(other, p);
  const double value = a.value * b.value / p;
  return {value, (a.slope * b.value + a.value * b.slope) / p - value / (2.0 * p * p)};
}

/// Values of a function at all modes, and how it changes with the operator: f[x_k, x_l] (divided difference), and the
/// same of x f.
class OperatorFunction {
 public:
  template <class Function>
  OperatorFunction(const AlignedReals& p, const Function& function) {
    std::vector<AtMode> at;
    for (const double one : p) at.push_back(function(one));
    const auto n = static_cast<Index>(p.size());
    values.resize(n);
    difference.resize(n, n);
    difference_of_product.resize(n, n);
    for (Index l = 0; l < n; ++l) {
      const auto two = static_cast<std::size_t>(l);
      values[l] = at[two].value;
      for (Index k = 0; k <= l; ++k) {
        const auto one = static_cast<std::size_t>(k);
        const double x = p[one] * p[one], y = p[two] * p[two];
        const double slope = std::abs(x - y) > 1e-4 * (x + y) ? (at[one].value - at[two].value) / (x - y)
                                                              : 0.5 * (at[one].slope + at[two].slope);
        difference(k, l) = difference(l, k) = slope;
        difference_of_product(k, l) = difference_of_product(l, k) =
            0.5 * (at[one].value + at[two].value) + 0.5 * (x + y) * slope;
      }
    }
  }
  Eigen::VectorXd values;
  Eigen::MatrixXd difference, difference_of_product;
};

/// Potentials of one drive coil in a slab, by parity.
struct SlabField {
  AlignedComplex even, odd;
};

class Gradients {
 public:
  Gradients(const DiscSystem& system, std::size_t layers) : system_(system), n_(system.radial.size()) {
    const std::size_t count = system.coils.size();
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t j = 0; j <= i; ++j)
        pairs_.push_back({{std::vector<ElementWeights>(system.profiles.size() + 1, ElementWeights(system.radial)),
                           AlignedComplex(disc_lengths + disc_layer_lengths * layers),
                           AlignedComplex(system.radial.elements().size()),
                           AlignedComplex(system.radial.elements().size()), AlignedComplex(count)},
                          i,
                          j});
    for (std::size_t slab = 0; slab < system.ports.size(); ++slab) add_slab(slab);
    add_air();
  }

  std::vector<DiscGradient> all(const MeshGradient& mesh) const {
    const std::size_t count = system_.coils.size();
    std::vector<DiscGradient> result(count * count);
    for (const Pair& pair : pairs_)
      result[pair.one * count + pair.other] = result[pair.other * count + pair.one] = mesh.of(pair);
    return result;
  }

 private:
  struct Pair : DiscSensitivity {
    std::size_t one, other;
  };

  void add_slab(std::size_t slab);
  void add_response(const SlabResponse& response, std::size_t slab, AlignedComplex SlabField::*part,
                    const std::vector<SlabField>& fields);
  void add_air();
  void add_source(Pair& pair, std::size_t coil, const Eigen::VectorXcd& modal, Eigen::MatrixXcd& of_mass,
                  Eigen::MatrixXcd& of_stiffness) const;
  void add_winding(Pair& pair, std::size_t coil, const Eigen::VectorXcd& modal_weights) const;

  const DiscSystem& system_;
  std::size_t n_;
  std::vector<Pair> pairs_;
};

void Gradients::add_slab(std::size_t slab) {
  std::vector<SlabField> fields(system_.coils.size());
  for (std::size_t c = 0; c < fields.size(); ++c) {
    const AlignedComplex &top = system_.potentials[slab][c], &bottom = system_.potentials[slab + 1][c];
    for (std::size_t i = 0; i < n_; ++i) {
      fields[c].even.push_back(0.5 * (top[i] + bottom[i]));
      fields[c].odd.push_back(0.5 * (top[i] - bottom[i]));
    }
  }
  add_response(system_.ports[slab]->even, slab, &SlabField::even, fields);
  add_response(system_.ports[slab]->odd, slab, &SlabField::odd, fields);
}

/// -2 x^T dY y of one parity, with Y = a M + b K - M [SUM w (K + pole M)^-1] M. When the slab grows, its functions of z
/// are stretched with it: Galerkin's method is stationary in them.
void Gradients::add_response(const SlabResponse& response, std::size_t slab, AlignedComplex SlabField::*part,
                             const std::vector<SlabField>& fields) {
  const auto kind = system_.section.slabs[slab];
  const DiscProfile& profile = system_.profiles[kind];
  const DiscRadial& radial = system_.radial;
  const double h = 0.5 * system_.thickness(slab);
  const auto &upper = system_.section.levels[slab].slope, &lower = system_.section.levels[slab + 1].slope;
  const auto thicken = [&](Pair& pair, Complex change) {
    for (std::size_t i = 0; i < upper.size(); ++i) pair.lengths[i] -= change * (upper[i] - lower[i]);
  };
  std::vector<AlignedComplex> driven, summed(fields.size(), AlignedComplex(n_, 0.0));
  for (const auto& field : fields) driven.push_back(times(profile.mass, field.*part));
  for (const auto& pole : response.poles) {
    const BandedFactor factor = profile.factor(pole.at);
    std::vector<AlignedComplex> inside = driven;
    for (std::size_t c = 0; c < fields.size(); ++c) {
      factor.solve(inside[c]);
      for (std::size_t i = 0; i < n_; ++i) summed[c][i] += pole.weight * inside[c][i];
    }
    for (Pair& pair : pairs_) {
      const AlignedComplex &u = inside[pair.one], &v = inside[pair.other];
      pair.weights[kind].add(radial, -2.0 * pole.weight * pole.at, -2.0 * pole.weight, u, v);
      // weight ~ h^-3, pole ~ h^-2
      thicken(pair,
              pole.weight / h * (3.0 * dot(driven[pair.one], v) - 2.0 * pole.at * dot(u, times(profile.mass, v))));
    }
  }
  for (Pair& pair : pairs_) {
    const AlignedComplex &x = fields[pair.one].*part, &y = fields[pair.other].*part;
    auto& weights = pair.weights[kind];
    weights.add(radial, -2.0 * response.mass, -2.0 * response.stiffness, x, y);
    weights.add(radial, 2.0, 0.0, x, summed[pair.other]);
    weights.add(radial, 2.0, 0.0, summed[pair.one], y);
    // a ~ 1/h, b ~ h
    thicken(
        pair,
        (response.stiffness * dot(x, times(profile.stiffness, y)) - response.mass * dot(x, driven[pair.other])) / h);
  }
}

void Gradients::add_air() {
  const auto size = static_cast<Index>(n_);
  const RealMap modes(system_.air.modes.data(), size, size), mass_modes(system_.air.mass_modes.data(), size, size);
  const Eigen::Map<const Eigen::VectorXd> p(system_.air.p.data(), size);
  // Both faces, all drive coils, in modes: V^T M a.
  const std::size_t bottom = system_.ports.size();
  std::vector<std::vector<Eigen::VectorXcd>> modal(2);
  for (const std::size_t level : {std::size_t{0}, bottom})
    for (const auto& potential : system_.potentials[level])
      modal[level == 0 ? 0 : 1].push_back(mass_modes.transpose() *
                                          Eigen::Map<const Eigen::VectorXcd>(potential.data(), size));
  const auto face = [&](std::size_t coil) { return system_.coils[coil].side == Side::above ? 0u : 1u; };

  for (Pair& pair : pairs_) {
    Eigen::MatrixXcd of_mass(size, size), of_stiffness(size, size);
    for (Index j = 0; j < size; ++j)
      for (Index i = 0; i < size; ++i) {
        const Complex both =
            modal[0][pair.one][i] * modal[0][pair.other][j] + modal[1][pair.one][i] * modal[1][pair.other][j];
        of_stiffness(i, j) = -both / (p[i] + p[j]);
        of_mass(i, j) = -both * (p[i] * p[j] / (p[i] + p[j]));
      }
    add_source(pair, pair.one, modal[face(pair.one)][pair.other], of_mass, of_stiffness);
    add_source(pair, pair.other, modal[face(pair.other)][pair.one], of_mass, of_stiffness);
    const auto &one = system_.fields[pair.one], &other = system_.fields[pair.other];
    if (face(pair.one) == face(pair.other)) {
      const DiscCoil &coil = system_.coils[pair.one], &second = system_.coils[pair.other];
      const double factor = 0.5 * mu0 * mu0 * one.density * other.density;
      const OperatorFunction h(system_.air.p, [&](double at) { return direct(coil, second, at); });
      const Eigen::Map<const Eigen::VectorXd> f(one.projection.data(), size), g(other.projection.data(), size);
      const Eigen::MatrixXd outer = factor * f * g.transpose();
      of_stiffness -= outer.cwiseProduct(h.difference).cast<Complex>();
      of_mass += outer.cwiseProduct(h.difference_of_product).cast<Complex>();
      add_winding(pair, pair.one, -factor * h.values.cwiseProduct(g).cast<Complex>());
      add_winding(pair, pair.other, -factor * h.values.cwiseProduct(f).cast<Complex>());
      double shift = 0.0;
      for (std::size_t i = 0; i < n_; ++i) shift += 0.5 * mu0 * mu0 * one.spectrum[i] * other.spectrum[i];
      pair.gaps[pair.one] += shift;
      pair.gaps[pair.other] += shift;
    }
    for (Eigen::MatrixXcd* matrix : {&of_mass, &of_stiffness}) {
      const Eigen::MatrixXd real = modes * matrix->real() * modes.transpose();
      const Eigen::MatrixXd imaginary = modes * matrix->imag() * modes.transpose();
      matrix->real() = real;
      matrix->imag() = imaginary;
    }
    add(pair.weights.back(), system_.radial, of_mass, of_stiffness);
  }
}

/// db^T a of one coil's source, a given in modes at its face: b = mu0 n M G f, G = V g V^T.
void Gradients::add_source(Pair& pair, std::size_t coil, const Eigen::VectorXcd& modal, Eigen::MatrixXcd& of_mass,
                           Eigen::MatrixXcd& of_stiffness) const {
  const auto size = static_cast<Index>(n_);
  const auto& field = system_.fields[coil];
  const OperatorFunction g(system_.air.p, [&](double p) { return axial(system_.coils[coil], p); });
  const Eigen::Map<const Eigen::VectorXd> f(field.projection.data(), size);
  const double factor = mu0 * field.density;
  const Eigen::MatrixXcd outer = factor * modal * f.transpose().cast<Complex>();
  of_stiffness += outer.cwiseProduct(g.difference.cast<Complex>());
  of_mass -= outer.cwiseProduct(g.difference_of_product.cast<Complex>());
  of_mass += factor * modal * g.values.cwiseProduct(f).transpose().cast<Complex>();
  add_winding(pair, coil, factor * modal.cwiseProduct(g.values.cast<Complex>()));
  for (Index i = 0; i < size; ++i)
    pair.gaps[coil] -=
        mu0 * system_.air.p[static_cast<std::size_t>(i)] * field.spectrum[static_cast<std::size_t>(i)] * modal[i];
}

/// y^T df with y given in modes, f = INT phi r dr over the winding, when the ends of elements move.
void Gradients::add_winding(Pair& pair, std::size_t coil, const Eigen::VectorXcd& modal_weights) const {
  const auto size = static_cast<Index>(n_);
  const RealMap modes(system_.air.modes.data(), size, size);
  AlignedComplex y(n_);
  Eigen::Map<Eigen::VectorXcd>(y.data(), size) = modes * modal_weights;
  const auto& winding = system_.coils[coil].coil;
  const auto& elements = system_.radial.elements();
  for (std::size_t e = 0; e < elements.size(); ++e) {
    auto element = elements[e];
    if (element.right <= winding.inner_radius || element.left >= winding.outer_radius) continue;
    const double step = 1e-4 * (element.right - element.left);
    const auto moment = [&](double left, double right) {
      element.left = left;
      element.right = right;
      return system_.radial.moment(element, winding.inner_radius, winding.outer_radius, y);
    };
    const double left = elements[e].left, right = elements[e].right;
    pair.left[e] += (moment(left + step, right) - moment(left - step, right)) / (2.0 * step);
    pair.right[e] += (moment(left, right + step) - moment(left, right - step)) / (2.0 * step);
  }
}

}  // namespace

std::vector<DiscGradient> disc_gradients(const DiscSystem& system, std::size_t layers) {
  return Gradients(system, layers).all(MeshGradient(system, layers));
}

}  // namespace mintspread::signature
