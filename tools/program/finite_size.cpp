#include "tools/program/finite_size.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

#include "engine/base/sha256.hpp"
#include "engine/study/finite.hpp"
#include "engine/study/sorter.hpp"
#include "reports/text.hpp"
#include "tools/program/build_identity.hpp"

namespace mintspread::program {

namespace {

constexpr const char* kind = "finite-coin";

/// A wait worth telling of, s.
constexpr double noticeable = 2.0;
constexpr std::uint64_t preview_pieces = 65536;
/// Pieces at a sort, whose spread the error of its surface is held against.
constexpr std::uint64_t trial_pieces = 16384;

/// What is known at once: the same run of coins of unlimited width.
void tell_planar(const study::Study& planar, const Request& request, double seconds, std::stop_token stop) {
  const std::string wait = fmt::format("{}: solving the coin in its finite size, about {:.0f} s; kept for later runs.",
                                       planar.model().name, std::max(1.0, seconds));
  // Sorts by the channels of such coins would keep others.
  if (std::ranges::any_of(planar.model().sorts,
                          [](const study::Sort& sort) { return sort.reads == study::Sort::Reads::channel; }))
    return note(wait);
  note(wait + " Until then, as if of unlimited width:");
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
  return preparation.solve(options);
}

/// Solutions of one study, from the store or solved and kept there.
signature::FiniteCoins finite_coins(const study::Study& planar, const Request& request, const Console& console,
                                    const std::stop_token& stop) {
  const study::FinitePreparation preparation(planar);
  const std::string key = sha256(build_identity() + std::string("\n") + preparation.key());
  std::optional<Store> store = store_of(request);
  // Solutions depend on their key alone: --fresh computes results anew, not these.
  if (store)
    if (const auto blob = store->read(kind, key))
      if (auto coins = preparation.from_bytes(*blob)) return *coins;
  signature::FiniteCoins coins = solve(preparation, planar, request, console, stop);
  try {
    if (store) store->write(kind, key, study::FinitePreparation::bytes(coins));
  } catch (const StoreUnusable& error) {
    if (!request.quiet) note(fmt::format("mintspread: the solutions are not kept for later runs: {}", error.what()));
  }
  return coins;
}

/// What a sort has before it, solved and tried. What is wrong with it is told of the sort.
signature::FiniteCoins finite_coins_at_sort(const study::ProductionModel& model, std::size_t sort,
                                            const Request& request, const Console& console,
                                            const std::stop_token& stop) {
  try {
    const study::Study at(study::model_of_sort(model, sort), {.planar_tolerance = request.tolerance});
    signature::FiniteCoins coins = finite_coins(at, request, console, stop);
    study::RunOptions trial;
    trial.pieces = trial_pieces;
    trial.outer_draws = 0;
    trial.threads = request.threads;
    trial.stop = stop;
    const auto rough = study::rough_surfaces(
        study::run(study::Study(at.model(), {.planar_tolerance = request.tolerance, .finite = coins}), trial));
    if (!rough.empty()) throw InvalidSpecification(rough);
    return coins;
  } catch (const InvalidSpecification& error) {
    std::vector<Problem> problems = error.problems();
    for (Problem& problem : problems) problem.path = model.sorts[sort].path;
    throw InvalidSpecification(std::move(problems));
  }
}

}  // namespace

std::optional<Store> store_of(const Request& request) {
  const auto directory = Store::usual_directory();
  if (request.storing == Storing::off || !directory) return std::nullopt;
  return Store(*directory);
}

study::Study make_finite(study::Study planar, const Request& request, const Console& console, std::stop_token stop) {
  study::StudyOptions options{.planar_tolerance = request.tolerance};
  const study::ProductionModel& model = planar.model();
  for (std::size_t s = 0; s < model.sorts.size(); ++s) {
    signature::FiniteCoins& coins = options.finite_at_sorts.emplace_back();
    if (model.sorts[s].reads == study::Sort::Reads::channel)
      coins = finite_coins_at_sort(model, s, request, console, stop);
  }
  options.finite = finite_coins(planar, request, console, stop);
  return study::Study(model, options);
}

}  // namespace mintspread::program
