#include <catch2/catch.hpp>
#include <cstdint>

#include "engine/base/columns.hpp"
#include "engine/base/contract.hpp"

using mintspread::Columns;

TEST_CASE("columns are aligned for the widest vector and start at zero") {
  Columns columns(3, 24);
  for (std::size_t c = 0; c < 3; ++c) {
    CHECK(reinterpret_cast<std::uintptr_t>(columns[c].data()) % 64 == 0);
    for (double value : columns[c]) CHECK(value == 0.0);
  }
}

TEST_CASE("columns refuse lanes that do not fill whole vectors") {
  CHECK_THROWS_AS(Columns(1, 13), mintspread::ContractBroken);
}
