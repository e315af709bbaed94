#pragma once

#include <deque>
#include <string>
#include <utility>
#include <vector>

#include "specs/grammar.hpp"

namespace mintspread::specs {

// How the tables of the grammar are written, and which of them others use; for the files grammar*.cpp alone.

using Kind = Form::Kind;

inline Form text(std::string example = {}) { return {.kind = Kind::text, .example = std::move(example)}; }
inline Form choice(std::vector<std::string> choices) { return {.kind = Kind::choice, .choices = std::move(choices)}; }
inline Form constant(std::string example) { return {.kind = Kind::constant, .example = std::move(example)}; }
inline Form quantity(std::string example) {
  return {.kind = Kind::quantity, .table = quantity_table, .example = std::move(example)};
}
inline Form mapping(const Table& (*table)()) { return {.kind = Kind::mapping, .table = table}; }
inline Form limits(std::string example) { return {.kind = Kind::limits, .example = std::move(example)}; }

/// A form that others point to lives as long as the program.
inline const Form* keep(Form form) {
  static std::deque<Form> kept;
  return &kept.emplace_back(std::move(form));
}
inline Form named(Form of) { return {.kind = Kind::named, .of = keep(std::move(of))}; }
inline Form list(Form of, ItemPath items = ItemPath::position) {
  return {.kind = Kind::list, .of = keep(std::move(of)), .items = items};
}

inline constexpr const char* format_about = "Kind and version of this file.";

// Of quantities.
const Table& thickness_table();
const Table& variation_table();
Key composition_key();

/// The keys, then those that change a metal's properties.
std::vector<Key> with_metal(std::vector<Key> keys);
const Table& rim_height_table();
const Table& step_table();

const Table& coin_table();
const Table& sensor_table();

}  // namespace mintspread::specs
