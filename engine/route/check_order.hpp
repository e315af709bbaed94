#pragma once

#include "engine/route/nominal_check.hpp"

namespace mintspread::route {

/// Adds what is wrong with the order of the steps, their names and each step's own numbers, without making a piece.
void check_order(const Route& route, NominalCheck& check);

std::string path_of(const Bath& bath);
std::string path_of(const Anneal& anneal);

}  // namespace mintspread::route
