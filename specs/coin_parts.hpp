#pragma once

#include <optional>
#include <string>

#include "engine/base/columns.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"
#include "specs/materials.hpp"
#include "specs/quantity.hpp"

namespace mintspread::specs {

// What a route and a section are read with alike.

/// A length that is positive, or not negative.
QuantityRule length_rule(const char* name, const char* subject, const char* why, bool zero_allowed,
                         const char* place = "");

/// An input from its key; from `otherwise` where the key does not stand, as a constant that the echo calls not stated.
InputId add_quantity(Context& context, const Fields& f, const std::string& key, const QuantityRule& rule,
                     const std::string& step, std::optional<double> otherwise = {}, const Unit& unit = {});

/// `up` and `down` of `rim height`; 0 where they do not stand.
void read_rim_height(const Fields& f, const std::string& step, Context& context, InputId& up, InputId& down);

/// Whether everything the nominal piece of `node` is made of could be read.
bool sound(const Node& node, const Handbook& handbook, const Context& context);

/// The engine's own check of the nominal piece, if all that it is made of could be read. Its warnings come with the
/// study.
void check_nominal(const Node& node, const Handbook& handbook, Context& context);

}  // namespace mintspread::specs
