#pragma once

#include <cstddef>
#include <memory>
#include <span>

namespace mintspread {

/// Lanes of one block. A lane is one piece from the draw to the tally. A multiple of every vector width in use.
inline constexpr std::size_t block_lanes = 512;

/// Pieces in a chunk: the unit of merge, shard, resume and stopping.
inline constexpr std::size_t chunk_pieces = 65536;

/// `count` columns of `lanes` doubles each, 64-byte aligned, column after column. All values start at zero.
/// `lanes` must be a multiple of 8 (one AVX-512 vector), so that kernels need no remainder loop.
class Columns {
 public:
  Columns(std::size_t count, std::size_t lanes);

  std::size_t count() const { return count_; }
  std::size_t lanes() const { return lanes_; }

  std::span<double> operator[](std::size_t column) { return {data_.get() + column * stride_, lanes_}; }
  std::span<const double> operator[](std::size_t column) const { return {data_.get() + column * stride_, lanes_}; }

 private:
  struct Free {
    void operator()(double* data) const;
  };
  std::size_t count_;
  std::size_t lanes_;
  std::size_t stride_;
  std::unique_ptr<double[], Free> data_;
};

}  // namespace mintspread
