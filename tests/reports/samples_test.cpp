#include "reports/samples.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <string>
#include <vector>

using namespace mintspread;
using reports::SampleFormat;

namespace {

Columns two_columns() {
  Columns values(2, 8);
  values[0][0] = 0.1;
  values[0][1] = -3e-7;
  values[1][0] = std::numeric_limits<double>::quiet_NaN();
  values[1][1] = 22.0;
  return values;
}

}  // namespace

TEST_CASE("samples in CSV have one line a piece, names with units, and nothing where there is no value") {
  const std::vector<study::SampleColumn> columns{{"skin, outer", "counts"}, {"=ratio", ""}};
  CHECK(reports::samples_header(SampleFormat::csv, columns, 2) == "\"skin, outer [counts]\",'=ratio\r\n");
  CHECK(reports::samples_rows(SampleFormat::csv, two_columns(), 2) == "0.1,\r\n-3e-07,22\r\n");
}

TEST_CASE("samples in NumPy's format follow its published layout") {
  // NumPy Enhancement Proposal 1, "A simple file format for NumPy arrays": magic, version, little-endian length of the
  // header in four bytes from version 2.0 on, a Python literal that ends with a line feed, data at a multiple of 64
  // bytes; version 3.0 where the header is not ASCII.
  const std::vector<study::SampleColumn> columns{{"it's", "\u00b5m"}, {"it's", "\u00b5m"}};
  for (const bool ascii : {true, false}) {
    auto named = columns;
    if (ascii) named[0].unit = named[1].unit = "um";
    const std::string header = reports::samples_header(SampleFormat::npy, named, 262144);
    REQUIRE(header.size() % 64 == 0);
    CHECK(header.substr(0, 6) == "\x93NUMPY");
    CHECK(header[6] == (ascii ? 2 : 3));
    CHECK(header[7] == 0);
    std::uint32_t length;
    std::memcpy(&length, &header[8], 4);
    CHECK(12 + length == header.size());
    CHECK(header.back() == '\n');
    const std::string unit = named[0].unit;
    CHECK(header.substr(12, header.find_last_not_of(" \n") - 11) ==
          "{'descr': [('it\\'s [" + unit + "]', '<f8'), ('it\\'s [" + unit +
              "] 2', '<f8'), ], 'fortran_order': False, 'shape': (262144,), }");
  }
  const std::string rows = reports::samples_rows(SampleFormat::npy, two_columns(), 2);
  REQUIRE(rows.size() == 4 * sizeof(double));
  double values[4];
  std::memcpy(values, rows.data(), rows.size());
  CHECK(values[0] == 0.1);
  CHECK(std::isnan(values[1]));
  CHECK(values[2] == -3e-7);
  CHECK(values[3] == 22.0);
}
