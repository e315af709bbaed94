#include "engine/signature/disc_system.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/base/constants.hpp"

namespace mintspread::signature {

namespace {

/// Eigen cuts its products by the sizes of the processor's caches, and sums round by the cuts. Sizes of our own, set
/// before anything is computed, give the same bytes on every processor.
[[maybe_unused]] const bool caches_are_alike = [] {
  Eigen::setCpuCacheSizes(32 * 1024, 512 * 1024, 4 * 1024 * 1024);
  return true;
}();

using Complex = std::complex<double>;
using Eigen::Index;
using Matrix = Eigen::MatrixXd;

Matrix dense(const BandedReal& banded) {
  const auto size = static_cast<Index>(banded.size());
  Matrix full = Matrix::Zero(size, size);
  for (std::size_t i = 0; i < banded.size(); ++i)
    for (std::size_t j = banded.first(i); j <= i; ++j) {
      const auto row = static_cast<Index>(i), column = static_cast<Index>(j);
      full(row, column) = full(column, row) = banded.lower(i, j);
    }
  return full;
}

AlignedReals numbers(const Matrix& matrix) { return {matrix.data(), matrix.data() + matrix.size()}; }

/// M X, with X given by its full rows.
AlignedReals times(const BandedReal& mass, const AlignedReals& x) {
  const std::size_t size = mass.size();
  AlignedReals product(size * size, 0.0);
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = mass.first(i); j < std::min(size, i + mass.width() + 1); ++j) {
      const double factor = mass.at(i, j);
      const double* const from = x.data() + j * size;
      double* const to = product.data() + i * size;
      for (std::size_t c = 0; c < size; ++c) to[c] += factor * from[c];
    }
  return product;
}

/// M X M from the lower half of X.
AlignedReals between(const BandedReal& mass, AlignedReals x) {
  const std::size_t size = mass.size();
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < i; ++j) x[j * size + i] = x[i * size + j];
  x = times(mass, x);
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < i; ++j) std::swap(x[j * size + i], x[i * size + j]);
  return times(mass, x);
}

/// Response of a slab to one parity, a symmetric matrix with both halves.
SplitMatrix response_matrix(const DiscProfile& profile, const SlabResponse& response) {
  const std::size_t size = profile.mass.size();
  SplitMatrix result(size);
  for (const auto& pole : response.poles) {
    profile.factor(pole.at).add_inverse(-pole.weight, result.real, result.imaginary);
  }
  result.real = between(profile.mass, std::move(result.real));
  result.imaginary = between(profile.mass, std::move(result.imaginary));
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = profile.mass.first(i); j <= i; ++j) {
      const Complex entry =
          response.mass * profile.mass.lower(i, j) + response.stiffness * profile.stiffness.lower(i, j);
      result.set(i, j, result.at(i, j) + entry);
      if (i != j) result.set(j, i, result.at(j, i) + entry);
    }
  return result;
}

void combine(AlignedReals& even, AlignedReals& odd) {
  for (std::size_t i = 0; i < even.size(); ++i) {
    const double half = 0.5 * even[i], other = 0.5 * odd[i];
    even[i] = half + other;
    odd[i] = half - other;
  }
}

/// The level under a slab taken out: [own + below, across; across, own], below what it finds there.
PartialFactor take_out(const DiscTwoPort& port, const SplitMatrix& below) {
  const std::size_t n = below.size;
  SplitMatrix both(2 * n);
  const auto copy = [n](const AlignedReals& own, const AlignedReals& across, const AlignedReals& under,
                        AlignedReals& to) {
    for (std::size_t j = 0; j < n; ++j)
      for (std::size_t i = 0; i < n; ++i) {
        to[2 * n * j + i] = own[n * j + i] + under[n * j + i];
        to[2 * n * j + n + i] = across[n * j + i];
        to[2 * n * (n + j) + n + i] = own[n * j + i];
      }
  };
  copy(port.own.real, port.across.real, below.real, both.real);
  copy(port.own.imaginary, port.across.imaginary, below.imaginary, both.imaginary);
  return {std::move(both), n};
}

}  // namespace

DiscAir::DiscAir(const DiscRadial& radial) {
  // The reciprocals of p^2 are computed, L^T K^-1 L with M = L L^T, so that the small p keep their digits beside those
  // of the finest elements.
  const Eigen::LLT<Matrix> root(dense(radial.mass({}))), stiffness(dense(radial.stiffness({})));
  const Matrix lower = root.matrixL();
  const Matrix half = stiffness.matrixL().solve(lower);
  const Eigen::SelfAdjointEigenSolver<Matrix> solver(half.transpose() * half);
  const double least = 1e-18 * solver.eigenvalues().tail<1>()[0];
  const Eigen::VectorXd roots = solver.eigenvalues().cwiseMax(least).cwiseSqrt().cwiseInverse();
  p.assign(roots.data(), roots.data() + roots.size());
  const Matrix both = lower * solver.eigenvectors();
  mass_modes = numbers(both);
  modes = numbers(root.matrixU().solve(solver.eigenvectors()));
  admittance = numbers(both * roots.asDiagonal() * both.transpose());
}

DiscCoilField::DiscCoilField(const DiscCoil& coil, const DiscRadial& radial, const DiscAir& air)
    : density(coil.coil.turns / ((coil.coil.outer_radius - coil.coil.inner_radius) * coil.coil.length)) {
  const std::size_t n = air.p.size();
  const auto size = static_cast<Index>(n);
  const auto f = radial.moments(coil.coil.inner_radius, coil.coil.outer_radius);
  const Eigen::Map<const Matrix> modes(air.modes.data(), size, size), mass_modes(air.mass_modes.data(), size, size);
  projection.resize(n);
  source.resize(n);
  Eigen::Map<Eigen::VectorXd>(projection.data(), size) =
      modes.transpose() * Eigen::Map<const Eigen::VectorXd>(f.data(), size);
  for (std::size_t i = 0; i < n; ++i) spectrum.push_back(density * projection[i] * axial_spectrum(coil, air.p[i]));
  Eigen::Map<Eigen::VectorXd>(source.data(), size) =
      mu0 * (mass_modes * Eigen::Map<const Eigen::VectorXd>(spectrum.data(), size));
}

DiscProfile::DiscProfile(const DiscRadial& radial, const DiscSection& section, const std::vector<std::size_t>& metal_of,
                         Complex s)
    : mass(radial.mass(metal_of)) {
  const BandedReal k = radial.stiffness(metal_of), c = radial.conductance(metal_of);
  stiffness = BandedComplex(k.size(), k.width());
  for (std::size_t i = 0; i < k.size(); ++i)
    for (std::size_t j = k.first(i); j <= i; ++j) stiffness.lower(i, j) = k.lower(i, j) + s * mu0 * c.lower(i, j);
  for (const std::size_t metal : metal_of) {
    if (metal == DiscSection::air) continue;
    const auto& m = section.metals[metal];
    const Complex p = std::sqrt(s * mu0 * m.permeability * m.conductivity);
    const bool known =
        std::ranges::any_of(metals, [p](Complex other) { return std::abs(p - other) < 0.1 * std::abs(p); });
    if (!known) metals.push_back(p);
  }
}

BandedFactor DiscProfile::factor(double pole) const {
  BandedComplex shifted = stiffness;
  for (std::size_t i = 0; i < mass.size(); ++i)
    for (std::size_t j = mass.first(i); j <= i; ++j) shifted.lower(i, j) += pole * mass.lower(i, j);
  return BandedFactor(std::move(shifted));
}

DiscTwoPort::DiscTwoPort(const DiscProfile& profile, double thickness, double largest, double spacing)
    : even(slab_response(thickness, Parity::even, profile.metals, largest, spacing)),
      odd(slab_response(thickness, Parity::odd, profile.metals, largest, spacing)),
      own(response_matrix(profile, even)),
      across(response_matrix(profile, odd)) {
  combine(own.real, across.real);
  combine(own.imaginary, across.imaginary);
}

DiscSystem::DiscSystem(const Disc& disc, std::span<const DiscCoil> all_coils, Complex at, const DiscMeshing& meshing)
    : coils(all_coils), s(at), section(cut_section(disc)), radial(section, coils, s, meshing), air(radial) {
  for (const auto& coil : coils) fields.emplace_back(coil, radial, air);
  for (const auto& metals : section.profiles) profiles.emplace_back(radial, section, metals, s);
  make_ports(meshing);
  solve();
}

void DiscSystem::make_ports(const DiscMeshing& meshing) {
  for (std::size_t i = 0; i < section.slabs.size(); ++i) {
    std::shared_ptr<const DiscTwoPort> port;
    for (std::size_t k = 0; k < i && !port; ++k)
      if (section.slabs[k] == section.slabs[i] && std::abs(thickness(k) - thickness(i)) < 1e-9 * thickness(i))
        port = ports[k];
    if (!port)
      port = std::make_shared<const DiscTwoPort>(profiles[section.slabs[i]], thickness(i), radial.largest_wave_number(),
                                                 meshing.pole_spacing);
    ports.push_back(std::move(port));
  }
}

/// Upwards from the lowest level, each level taken out in turn; then the potentials downwards.
void DiscSystem::solve() {
  const std::size_t n = radial.size(), slabs = ports.size(), count = coils.size();
  potentials.assign(slabs + 1, std::vector<AlignedComplex>(count, AlignedComplex(n)));
  for (std::size_t c = 0; c < count; ++c)
    std::ranges::copy(fields[c].source, potentials[level_of(coils[c])][c].begin());
  SplitMatrix below(n);
  below.real = air.admittance;
  std::vector<PartialFactor> factors(slabs + 1);
  for (std::size_t i = slabs; i-- > 0;) {
    factors[i + 1] = take_out(*ports[i], below);
    for (std::size_t k = 0; k < n; ++k)
      for (std::size_t j = k; j < n; ++j) below.set(j, k, factors[i + 1].rest(j, k));
    for (std::size_t c = 0; c < count; ++c) factors[i + 1].forward(potentials[i + 1][c], potentials[i][c]);
  }
  for (std::size_t i = 0; i < n * n; ++i) below.real[i] += air.admittance[i];
  factors[0] = PartialFactor(std::move(below), n);
  AlignedComplex nothing;
  for (std::size_t c = 0; c < count; ++c) {
    factors[0].forward(potentials[0][c], nothing);
    factors[0].backward(potentials[0][c], nothing);
    for (std::size_t i = 1; i <= slabs; ++i) factors[i].backward(potentials[i][c], potentials[i - 1][c]);
  }
}

}  // namespace mintspread::signature
