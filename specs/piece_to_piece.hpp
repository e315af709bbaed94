#pragma once

#include <string>

#include "engine/base/columns.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"

namespace mintspread::specs {

/// `piece to piece` of a bath, as stated or from the number of surfacings: a factor about 1 with this coefficient of
/// variation. A constant 1 where it does not stand.
InputId read_piece_to_piece(const Fields& f, const std::string& step, Context& context);

}  // namespace mintspread::specs
