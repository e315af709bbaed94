#include "tools/program/finite_size.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "engine/base/sha256.hpp"
#include "engine/study/finite.hpp"
#include "reports/text.hpp"
#include "tools/program/build_identity.hpp"
#include "tools/program/examination.hpp"

namespace mintspread::program {

namespace {

constexpr const char* kind = "finite-coin";

/// A wait worth telling of, s.
constexpr double noticeable = 2.0;
constexpr std::uint64_t preview_pieces = 65536;

/// What is known at once: the same run of coins of unlimited width.
void tell_planar(const study::Study& planar, const Request& request, double seconds, std::stop_token stop) {
  note(
      fmt::format("{}: solving the coin in its finite size, about {:.0f} s; kept for later runs. Until then, as if of "
                  "unlimited width:",
                  planar.model().name, std::max(1.0, seconds)));
  study::RunOptions options;
  options.seed = request.seed;
  options.pieces = std::min(request.pieces, preview_pieces);
  options.outer_draws = 0;
  options.coin_spread = false;
  options.threads = request.threads;
  options.stop = std::move(stop);
  note(reports::preview_text(study::run(planar, options)));
}

signature::FiniteCoins solve(const study::FinitePreparation& preparation, const study::Study& planar,
                             const Request& request, const Console& console, const std::stop_token& stop) {
  const double seconds = preparation.expected_seconds(request.threads);
  if (!request.quiet && seconds > noticeable) tell_planar(planar, request, seconds, stop);
  std::optional<ProgressLine> progress;
  if (!request.quiet) progress.emplace("finite size of " + planar.model().name, console);
  study::FiniteOptions options;
  options.threads = request.threads;
  options.stop = stop;
  options.progress = [&progress](double fraction) {
    if (progress) progress->tell(fraction);
  };
  try {
    return preparation.solve(options);
  } catch (const InvalidSpecification& error) {
    const Problem& problem = error.problems().front();
    throw Rejected(fmt::format("{}: {} {}", problem.path, problem.what, problem.remedy));
  }
}

}  // namespace

std::optional<Store> store_of(const Request& request) {
  const auto directory = Store::usual_directory();
  if (request.storing == Storing::off || !directory) return std::nullopt;
  return Store(*directory);
}

study::Study make_finite(study::Study planar, const Request& request, const Console& console, std::stop_token stop) {
  const study::FinitePreparation preparation(planar);
  const std::string key = sha256(build_identity() + std::string("\n") + preparation.key());
  std::optional<Store> store = store_of(request);
  std::optional<signature::FiniteCoins> coins;
  // Solutions depend on their key alone: --fresh computes results anew, not these.
  if (store)
    if (const auto blob = store->read(kind, key)) coins = preparation.from_bytes(*blob);
  if (!coins) {
    coins = solve(preparation, planar, request, console, stop);
    try {
      if (store) store->write(kind, key, study::FinitePreparation::bytes(*coins));
    } catch (const StoreUnusable& error) {
      if (!request.quiet) note(fmt::format("mintspread: the solutions are not kept for later runs: {}", error.what()));
    }
  }
  return study::Study(planar.model(), {.planar_tolerance = request.tolerance, .finite = std::move(*coins)});
}

}  // namespace mintspread::program
