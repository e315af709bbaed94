#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <complex>
#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "engine/materials/blurred_boundary.hpp"
#include "engine/signature/disc.hpp"
#include "engine/signature/planar.hpp"
#include "engine/study/finite.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "reports/page.hpp"
#include "tests/reference/planar_referee.hpp"
#include "tests/support/each_processor.hpp"
#include "tools/bench/annealed_job.hpp"
#include "tools/bench/disc_coins.hpp"
#include "tools/bench/reference_job.hpp"

// Speed and accuracy of the reference job, one JSON object a line. Ratios compare things measured in this one run;
// absolute figures belong to the processor named in the first line.

namespace {

using namespace mintspread;
using Clock = std::chrono::steady_clock;

void report(const std::string& name, double value, const std::string& unit) {
  if (std::isnan(value)) {
    fmt::print("{{\"name\": \"{}\", \"value\": null, \"unit\": \"{}\"}}\n", name, unit);
  } else {
    fmt::print("{{\"name\": \"{}\", \"value\": {:.6g}, \"unit\": \"{}\"}}\n", name, value, unit);
  }
  std::fflush(stdout);
}

double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

/// The best of three: what the machine can do when nothing else disturbs it.
template <class Work>
double best_seconds(const Work& work) {
  double best = INFINITY;
  for (int i = 0; i < 3; ++i) {
    const auto start = Clock::now();
    work();
    best = std::min(best, seconds_since(start));
  }
  return best;
}

double run_rate(const study::Study& study, std::uint64_t pieces, std::size_t threads) {
  study::RunOptions options;
  options.pieces = pieces;
  options.threads = threads;
  options.coin_spread = false;
  return static_cast<double>(pieces) / best_seconds([&] { study::run(study, options); });
}

/// The same rule and stack in a plain loop over std::complex: what the kernel's ideas and vectors are worth.
double plain_rate(const signature::PlanarRule& rule, const std::vector<std::complex<double>>& s,
                  const signature::PlanarBlock& block) {
  double sink = 0.0;
  const double seconds = best_seconds([&] {
    for (std::size_t lane = 0; lane < 64; ++lane) {
      for (const auto& at : s) sink += reference::mutual_inductance(rule, at, block, lane).real();
    }
  });
  return std::isfinite(sink) ? 64.0 / seconds : NAN;
}

/// Coins per second of the NumPy script beside this source, NaN where there is no NumPy.
double numpy_rate(const std::string& script) {
  for (const std::string python : {"python3", "/usr/bin/python3"}) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> pipe(
        ::popen((python + " '" + script + "' 2>/dev/null").c_str(), "r"), ::pclose);
    double rate = NAN;
    if (pipe && std::fscanf(pipe.get(), "%lf", &rate) == 1) return rate;
  }
  return NAN;
}

/// Largest error of the job's own rule over drawn coins against panels of Gauss-Legendre points, relative to |dZ|.
double largest_error(const signature::PlanarRule& rule, const signature::Coil& coil,
                     const std::vector<std::complex<double>>& s, const signature::PlanarBlock& block) {
  Columns mutual(2 * s.size(), block.lanes());
  signature::mutual_inductance(rule, s, block, mutual);
  double largest = 0.0;
  for (std::size_t lane = 0; lane < block.lanes(); lane += 16) {
    for (std::size_t m = 0; m < s.size(); ++m) {
      const auto exact = reference::integral(coil, coil, signature::Coupling::reflected, s[m], block, lane);
      const std::complex<double> found(mutual[2 * m][lane], mutual[2 * m + 1][lane]);
      largest = std::max(largest, std::abs(found - exact) / std::abs(exact));
    }
  }
  return largest;
}

void planar() {
  const auto model = bench::ReferenceJob::model();
  const study::Study study(model);
  report(std::string("planar.processor_path.") + signature::processor_path(), 1.0, "");
  for_each_processor([&](const char* processor) {
    report(std::string("planar.end_to_end.coins_per_second.") + processor, run_rate(study, 4'194'304, 2), "1/s");
  });
  const double two = run_rate(study, 4'194'304, 2);
  const double one = run_rate(study, 2'097'152, 1);
  report("planar.end_to_end.coins_per_second", two, "1/s");
  report("planar.end_to_end.coins_per_second_one_thread", one, "1/s");
  report("planar.two_threads_over_one", two / one, "");

  study::Pipeline pipeline(study.prepared(), block_lanes);
  pipeline.draw_and_read({.seed = 1}, 0, false);
  std::vector<signature::LayerColumns> layers;
  using Of = coin::CoinBlock::Of;
  for (std::size_t i = 0; i < bench::ReferenceJob::layers.size(); ++i) {
    layers.push_back({pipeline.coins().of(i, Of::face_thickness), pipeline.coins().of(i, Of::conductivity),
                      pipeline.coins().of(i, Of::permeability)});
  }
  Columns distance(1, block_lanes);
  const auto play = pipeline.inputs()[index(model.sensor.slot.play)];
  std::ranges::transform(play, distance[0].begin(), [](double gap) { return 2.0 * gap; });
  const signature::PlanarBlock block{layers, distance[0]};
  std::vector<std::complex<double>> s;
  for (const double f : bench::ReferenceJob::frequencies) s.emplace_back(0.0, 2.0 * pi * f);
  const auto& coil = model.sensor.coils.front().coil;
  const auto rule = signature::make_rule(coil, coil, signature::Coupling::reflected, s, block);
  report("planar.nodes", static_cast<double>(rule.nodes.size()), "");
  report("planar.max_relative_error", largest_error(rule, coil, s, block), "");

  Columns mutual(2 * s.size(), block_lanes);
  constexpr int repeats = 200;
  const double kernel = repeats * static_cast<double>(block_lanes) / best_seconds([&] {
                          for (int i = 0; i < repeats; ++i) signature::mutual_inductance(rule, s, block, mutual);
                        });
  report("planar.kernel.coins_per_second_one_thread", kernel, "1/s");
  report("planar.ratio_to_plain_complex_per_core", one / plain_rate(rule, s, block), "");
  const double numpy = numpy_rate(MINTSPREAD_BENCH "/planar_numpy.py");
  report("planar.numpy.coins_per_second", numpy, "1/s");
  report("planar.ratio_to_numpy_per_core", one / numpy, "");
  for_each_processor([&](const char* processor) {
    report(std::string("planar.ratio_to_numpy_per_core.") + processor, run_rate(study, 2'097'152, 1) / numpy, "");
  });
}

void decay() {
  const study::Study study(bench::ReferenceJob::with_gates());
  report("decay.six_gates.coins_per_second", run_rate(study, 262'144, 2), "1/s");
}

/// One solution at one frequency, all couplings of five coils, on one core: the mean and the slowest of five coins at
/// six frequencies, and the largest error of any coupling against the fine resolution.
void disc() {
  const auto coils = bench::disc_coils();
  double sum = 0.0, slowest = 0.0, with_error = 0.0, largest = 0.0, count = 0.0;
  for (const auto& coin : bench::disc_coins()) {
    for (const double frequency : {4e3, 16e3, 60e3, 240e3, 960e3, 3e6}) {
      const std::complex<double> s(0.0, 2.0 * pi * frequency);
      signature::DiscOptions options{signature::DiscResolution::standard, false, false};
      signature::DiscSolution solution;
      const double seconds = best_seconds([&] { solution = signature::solve_disc(coin, coils, s, options); });
      options.error = true;
      with_error += best_seconds([&] { signature::solve_disc(coin, coils, s, options); });
      const auto fine = signature::solve_disc(coin, coils, s, {signature::DiscResolution::fine, false, false});
      for (std::size_t i = 0; i < fine.mutual.size(); ++i)
        largest = std::max(largest, std::abs(solution.mutual[i] - fine.mutual[i]) / std::abs(fine.mutual[i]));
      sum += seconds;
      slowest = std::max(slowest, seconds);
      count += 1.0;
    }
  }
  report("disc.solve.milliseconds", 1e3 * sum / count, "ms");
  report("disc.solve.slowest_milliseconds", 1e3 * slowest, "ms");
  report("disc.solve_with_error.milliseconds", 1e3 * with_error / count, "ms");
  report("disc.max_relative_error", largest, "");
}

/// The reference job in its finite size: solving the coins on two threads, production through the response surfaces,
/// and their error at coins they were not fitted to, over the spread of the coins, in the worst channel.
void finite() {
  const auto model = bench::ReferenceJob::model();
  const study::Study planar_study(model);
  const study::FinitePreparation preparation(planar_study);
  study::FiniteOptions options;
  options.threads = 2;
  const auto start = std::chrono::steady_clock::now();
  const auto coins = preparation.solve(options);
  report("finite.solve.seconds", std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), "s");
  report("finite.solve.solutions", static_cast<double>(preparation.solutions()), "");
  const study::Study study(model, {.finite = coins});
  report("finite.coins_per_second", run_rate(study, 1'048'576, 2), "1/s");
  study::RunOptions run;
  run.pieces = 16384;
  run.outer_draws = 0;
  double worst = 0.0;
  for (const auto& channel : study::run(study, run).channels)
    worst = std::max(worst, channel.surface_error / channel.coin.sd.value);
  report("finite.held_out_over_spread", worst, "");
}

/// Writing the page of the reference job's result.
void page() {
  const study::Study study(bench::ReferenceJob::model());
  study::RunOptions run;
  run.pieces = 65'536;
  const auto result = study::run(study, run);
  std::size_t bytes = 0;
  report("page.seconds", best_seconds([&] { bytes = reports::result_page(result).size(); }), "s");
  report("page.kilobytes", 1e-3 * static_cast<double>(bytes), "kB");
}

/// What a hot anneal costs: a million coins of a blurred plating over as many of one that stays sharp, with all that is
/// made once.
void annealed() {
  const auto seconds_of = [](bool hot) {
    const auto model = bench::annealed_job(hot);
    return best_seconds([&] {
      study::RunOptions options;
      options.pieces = 1'048'576;
      options.threads = 2;
      options.coin_spread = false;
      study::run(study::Study(model), options);
    });
  };
  const auto start = Clock::now();
  materials::BlurredBoundary::Profile profile;
  materials::BlurredBoundary::of_copper_and_nickel().diffuse(1e-12, 1e-14, 1e-5, profile);
  const double once = seconds_since(start), sharp = seconds_of(false), blurred = seconds_of(true) + once;
  report("annealed.blurred_over_sharp", blurred / sharp, "");
}

}  // namespace

int main() {
  planar();
  annealed();
  decay();
  disc();
  finite();
  page();
  return 0;
}
