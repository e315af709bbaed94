#include "engine/signature/disc_solve.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <memory>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/signature/disc_slab.hpp"
#include "engine/signature/disc_split.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;

Index signed_index(std::size_t i) { return static_cast<Index>(i); }

Eigen::MatrixXd dense(const BandedReal& banded) {
  const Index size = signed_index(banded.size());
  Eigen::MatrixXd full = Eigen::MatrixXd::Zero(size, size);
  for (std::size_t i = 0; i < banded.size(); ++i)
    for (std::size_t j = banded.first(i); j <= i; ++j)
      full(signed_index(i), signed_index(j)) = full(signed_index(j), signed_index(i)) = banded.lower(i, j);
  return full;
}

/// Modes of the air: K v = p^2 M v, V^T M V = 1. The reciprocals of p^2 are computed, L^T K^-1 L with M = L L^T, so
/// that the small p keep their digits beside those of the finest elements.
struct Air {
  Eigen::MatrixXd mass_modes;  ///< M V
  Eigen::MatrixXd modes;       ///< V
  Eigen::VectorXd p;
  Eigen::MatrixXd admittance;  ///< M V P (M V)^T

  explicit Air(const DiscRadial& radial) {
    const Eigen::MatrixXd mass = dense(radial.mass({}));
    const Eigen::LLT<Eigen::MatrixXd> root(mass), stiffness(dense(radial.stiffness({})));
    const Eigen::MatrixXd lower = root.matrixL();
    const Eigen::MatrixXd half = stiffness.matrixL().solve(lower);
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(half.transpose() * half);
    const double least = 1e-18 * solver.eigenvalues().tail<1>()[0];
    p = solver.eigenvalues().cwiseMax(least).cwiseSqrt().cwiseInverse();
    mass_modes = lower * solver.eigenvectors();
    modes = root.matrixU().solve(solver.eigenvectors());
    admittance = mass_modes * p.asDiagonal() * mass_modes.transpose();
  }
};

/// M X, with X given by its full rows.
std::vector<double> times(const BandedReal& mass, const std::vector<double>& x) {
  const std::size_t size = mass.size();
  std::vector<double> product(size * size, 0.0);
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
std::vector<double> between(const BandedReal& mass, std::vector<double> x) {
  const std::size_t size = mass.size();
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < i; ++j) x[j * size + i] = x[i * size + j];
  x = times(mass, x);
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < i; ++j) std::swap(x[j * size + i], x[i * size + j]);
  return times(mass, x);
}

/// Radial matrices of one kind of slab.
struct Profile {
  BandedReal mass;
  BandedComplex stiffness;  ///< K + s mu0 S
  std::vector<Complex> metals;

  Profile(const DiscRadial& radial, const DiscSection& section, const std::vector<std::size_t>& metal_of, Complex s)
      : mass(radial.mass(metal_of)) {
    const BandedReal k = radial.stiffness(metal_of), c = radial.conductance(metal_of);
    stiffness = BandedComplex(k.size(), k.width());
    for (std::size_t i = 0; i < k.size(); ++i)
      for (std::size_t j = k.first(i); j <= i; ++j) stiffness.lower(i, j) = k.lower(i, j) + s * mu0 * c.lower(i, j);
    for (const std::size_t metal : metal_of) {
      if (metal == DiscSection::air) continue;
      const auto& m = section.metals[metal];
      const Complex p = std::sqrt(s * mu0 * m.permeability * m.conductivity);
      bool known = false;
      for (const Complex& other : metals) known = known || std::abs(p - other) < 0.1 * std::abs(p);
      if (!known) metals.push_back(p);
    }
  }
};

/// Response of a slab to one parity, a symmetric matrix with both halves.
SplitMatrix response_matrix(const Profile& profile, const SlabResponse& response) {
  const std::size_t size = profile.mass.size();
  SplitMatrix result(size);
  for (const auto& pole : response.poles) {
    BandedComplex shifted = profile.stiffness;
    for (std::size_t i = 0; i < size; ++i)
      for (std::size_t j = shifted.first(i); j <= i; ++j) shifted.lower(i, j) += pole.at * profile.mass.lower(i, j);
    BandedFactor(std::move(shifted)).add_inverse(-pole.weight, result.real, result.imaginary);
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

/// Admittance of a slab's faces: [own, across; across, own] acts on the potentials of both.
struct TwoPort {
  SplitMatrix own, across;

  TwoPort(const Profile& profile, double thickness, double largest, double spacing)
      : own(response_matrix(profile, slab_response(thickness, Parity::even, profile.metals, largest, spacing))),
        across(response_matrix(profile, slab_response(thickness, Parity::odd, profile.metals, largest, spacing))) {
    combine(own.real, across.real);
    combine(own.imaginary, across.imaginary);
  }

 private:
  static void combine(std::vector<double>& even, std::vector<double>& odd) {
    for (std::size_t i = 0; i < even.size(); ++i) {
      const double half = 0.5 * even[i], other = 0.5 * odd[i];
      even[i] = half + other;
      odd[i] = half - other;
    }
  }
};

/// The level under a slab taken out: [own + below, across; across, own], below what it finds there.
PartialFactor take_out(const TwoPort& port, const SplitMatrix& below) {
  const std::size_t n = below.size;
  SplitMatrix both(2 * n);
  const auto copy = [n](const std::vector<double>& own, const std::vector<double>& across,
                        const std::vector<double>& under, std::vector<double>& to) {
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

DiscSolution solve_on_mesh(const Disc& disc, std::span<const DiscCoil> coils, Complex s, const DiscMeshing& meshing,
                           bool /*gradient*/) {
  const DiscSection section = cut_section(disc);
  const DiscRadial radial(section, coils, s, meshing);
  const Index size = signed_index(radial.size());
  const Air air(radial);

  // A coil's field at the coin's outermost plane on its side, in modes: alpha = mu0 w / (2 p).
  Eigen::MatrixXd spectra(size, signed_index(coils.size()));
  for (std::size_t c = 0; c < coils.size(); ++c) {
    const auto& coil = coils[c].coil;
    const auto f = radial.moments(coil.inner_radius, coil.outer_radius);
    const double density = coil.turns / ((coil.outer_radius - coil.inner_radius) * coil.length);
    const Eigen::VectorXd modal = air.modes.transpose() * Eigen::Map<const Eigen::VectorXd>(f.data(), size);
    for (Index i = 0; i < size; ++i) {
      const double p = air.p[i];
      spectra(i, signed_index(c)) =
          density * modal[i] * std::exp(-p * coils[c].gap) * -std::expm1(-p * coil.length) / p;
    }
  }
  const Eigen::MatrixXd sources = mu0 * (air.mass_modes * spectra);

  std::vector<Profile> profiles;
  for (const auto& metals : section.profiles) profiles.emplace_back(radial, section, metals, s);

  // Upwards from the lowest level, each level taken out in turn; then the potentials downwards.
  const std::size_t n = radial.size(), slabs = section.slabs.size(), count = coils.size();
  SplitMatrix below(n);
  for (std::size_t j = 0; j < n; ++j)
    for (std::size_t i = 0; i < n; ++i) below.real[n * j + i] = air.admittance(signed_index(i), signed_index(j));
  // Potentials by level from the top, then by drive coil.
  std::vector<std::vector<ComplexVector>> potentials(slabs + 1, std::vector<ComplexVector>(count, ComplexVector(n)));
  for (std::size_t c = 0; c < count; ++c)
    for (std::size_t i = 0; i < n; ++i)
      potentials[coils[c].side == Side::above ? 0 : slabs][c][i] = sources(signed_index(i), signed_index(c));
  std::vector<PartialFactor> factors(slabs + 1);
  std::vector<std::shared_ptr<const TwoPort>> ports(slabs);
  for (std::size_t i = slabs; i-- > 0;) {
    const double thickness = section.levels[i].at - section.levels[i + 1].at;
    for (std::size_t k = i + 1; k < slabs && !ports[i]; ++k)
      if (section.slabs[k] == section.slabs[i] &&
          std::abs(section.levels[k].at - section.levels[k + 1].at - thickness) < 1e-9 * thickness)
        ports[i] = ports[k];
    if (!ports[i])
      ports[i] = std::make_shared<const TwoPort>(profiles[section.slabs[i]], thickness, radial.largest_wave_number(),
                                                 meshing.pole_spacing);
    factors[i + 1] = take_out(*ports[i], below);
    for (std::size_t k = 0; k < n; ++k)
      for (std::size_t j = k; j < n; ++j) below.set(j, k, factors[i + 1].rest(j, k));
    for (std::size_t c = 0; c < count; ++c) factors[i + 1].forward(potentials[i + 1][c], potentials[i][c]);
  }
  for (std::size_t j = 0; j < n; ++j)
    for (std::size_t i = 0; i < n; ++i) below.real[n * j + i] += air.admittance(signed_index(i), signed_index(j));
  factors[0] = PartialFactor(std::move(below), n);
  ComplexVector nothing;
  for (std::size_t c = 0; c < count; ++c) {
    factors[0].forward(potentials[0][c], nothing);
    factors[0].backward(potentials[0][c], nothing);
    for (std::size_t i = 1; i <= slabs; ++i) factors[i].backward(potentials[i][c], potentials[i - 1][c]);
  }

  DiscSolution solution;
  solution.status = DiscStatus::solved;
  solution.coils = coils.size();
  solution.unknowns = radial.size();
  solution.mutual.resize(coils.size() * coils.size());
  for (std::size_t drive = 0; drive < coils.size(); ++drive)
    for (std::size_t receive = 0; receive < coils.size(); ++receive) {
      const auto& field = potentials[coils[receive].side == Side::above ? 0 : slabs][drive];
      Complex flux = 0.0;
      for (std::size_t i = 0; i < n; ++i) flux += sources(signed_index(i), signed_index(receive)) * field[i];
      flux *= 2.0 * pi / mu0;
      if (coils[drive].side == coils[receive].side)
        flux -= pi * mu0 *
                (spectra.col(signed_index(drive)).array() * spectra.col(signed_index(receive)).array() / air.p.array())
                    .sum();
      solution.mutual[drive * coils.size() + receive] = flux;
    }
  return solution;
}

}  // namespace mintspread::signature
