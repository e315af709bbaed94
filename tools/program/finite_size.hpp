#pragma once

#include <optional>
#include <stop_token>

#include "engine/base/store.hpp"
#include "engine/study/study.hpp"
#include "tools/program/command_line.hpp"
#include "tools/program/console.hpp"

namespace mintspread::program {

/// The study of a coin in its finite size, from the planar one; what its sorts read by channels, too. Takes the
/// solutions that it needs from the store, or solves them and keeps them there; tells how long it will take and what
/// the planar study says meanwhile. Throws study::Interrupted; InvalidSpecification when too many solutions fail, when
/// what a sort reads between them is not good enough to tell a spread, or when a sort keeps nothing.
study::Study make_finite(study::Study planar, const Request& request, const Console& console, std::stop_token stop);

/// The store of a request; nothing when it wants none.
std::optional<Store> store_of(const Request& request);

}  // namespace mintspread::program
