#include "engine/base/columns.hpp"

#include <algorithm>
#include <new>

#include "engine/base/contract.hpp"

namespace mintspread {

namespace {
constexpr std::align_val_t alignment{64};
}

void Columns::Free::operator()(double* data) const { ::operator delete[](data, alignment); }

// One cache line between columns: a kernel reads many columns at one lane, and lines a page apart would fight for one
// set of the cache.
Columns::Columns(std::size_t count, std::size_t lanes) : count_(count), lanes_(lanes), stride_(lanes + 8) {
  expect(lanes % 8 == 0, "columns hold whole vectors of lanes");
  auto* data = static_cast<double*>(::operator new[](count* stride_ * sizeof(double), alignment));
  std::fill_n(data, count * stride_, 0.0);
  data_.reset(data);
}

}  // namespace mintspread
