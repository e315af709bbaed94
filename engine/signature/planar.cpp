#include "engine/signature/planar.hpp"

#include "engine/base/contract.hpp"
#include "engine/signature/planar_kernel.hpp"

namespace mintspread::signature {

void mutual_inductance(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& block,
                       Columns& out) {
  expect(block.lanes() % 8 == 0 && block.lanes() <= out.lanes(),
         "a planar block has whole vectors of lanes, as its result");
  expect(2 * s.size() <= out.count(), "a planar result has two columns for each frequency");
  expect(rule.nodes.size() == rule.weights.size(), "a planar rule has a weight for each node");
  for (const LayerColumns& layer : block.layers)
    expect(layer.thickness.size() >= block.lanes() && layer.conductivity.size() >= block.lanes() &&
               layer.permeability.size() >= block.lanes(),
           "every layer of a planar block has all lanes");
  solve_block(rule, s, block, out);
}

const char* processor_path() { return vector_target(); }

}  // namespace mintspread::signature
