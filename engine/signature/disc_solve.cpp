#include "engine/signature/disc_solve.hpp"

#include "engine/base/constants.hpp"
#include "engine/signature/disc_gradient.hpp"
#include "engine/signature/disc_system.hpp"

namespace mintspread::signature {

DiscSolution solve_on_mesh(const Disc& disc, std::span<const DiscCoil> coils, std::complex<double> s,
                           const DiscMeshing& meshing, bool gradient) {
  const DiscSystem system(disc, coils, s, meshing);
  DiscSolution solution;
  solution.status = DiscStatus::solved;
  solution.coils = coils.size();
  solution.unknowns = system.radial.size();
  for (std::size_t drive = 0; drive < coils.size(); ++drive)
    for (std::size_t receive = 0; receive < coils.size(); ++receive) {
      const auto& field = system.potentials[system.level_of(coils[receive])][drive];
      const auto &from = system.fields[drive], &to = system.fields[receive];
      std::complex<double> flux = 0.0;
      for (std::size_t i = 0; i < field.size(); ++i) flux += to.source[i] * field[i];
      double direct = 0.0;
      if (coils[drive].side == coils[receive].side)
        for (std::size_t i = 0; i < field.size(); ++i) direct += from.spectrum[i] * to.spectrum[i] / system.air.p[i];
      solution.mutual.push_back(2.0 * pi / mu0 * flux - pi * mu0 * direct);
    }
  if (gradient) solution.gradients = disc_gradients(system, disc.layers.size());
  return solution;
}

}  // namespace mintspread::signature
