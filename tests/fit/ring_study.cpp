// SPDX-License-Identifier: MIT
// What a picture of the ring piece tells of hidden machines:
//   ring_study [MACHINES] [EVERY_MM] [FIRST] [DPI] [jpg|png|tif]
// A line a machine on stderr, medians and coverage on stdout. With DPI each print is rendered as a
// picture of that resolution and read off it, half of them face down; it takes ten times as long.
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <fstream>

#include "fit/ring_bench.hpp"

namespace {

namespace ref = meltlag_reference;
using synthetic::Errors;
using synthetic::Truth;

struct Reading {
  double every_mm, dpi;  // 0: no picture is rendered
  std::string format;    // of the picture
};

// The bead as a picture shows it, and what is read off that.
meltlag::scan::ScanResult by_picture(ring_bench::Bench const& bench,
                                     std::vector<ref::BeadPlace> const& bead,
                                     Reading const& reading,
                                     ref::Dice& dice) {
  std::ofstream("ring_study.gcode", std::ios::binary) << bench.piece.gcode;
  std::string const file = "ring_study." + reading.format;
  ref::PictureOptions options{.file = file, .dpi = reading.dpi};
  options.bed_x_mm = 2 * bench.piece.centre_mm.x;
  options.bed_y_mm = 2 * bench.piece.centre_mm.y;
  options.piece_turn_deg = 360 * dice.uniform();
  options.mirrored = dice.uniform() < 0.5;
  options.dust = 200;
  options.seed = static_cast<std::uint32_t>(dice.bits());
  (void)ref::take_picture(bead, options);
  return meltlag::scan::scan_picture("ring_study.gcode", file, {});
}

void tell(int machine, Truth const& truth, meltlag::fit::FitResult const& fit) {
  double const flow = fit.law.at_flow_mm3_s, true_run_on = truth.run_on_at(flow);
  fmt::print(stderr,
             "{} S {:.2f} n {:.2f} f {:.2f}: run-on {:+.1f} ± {:.1f} %, index {:+.3f} ± {:.3f}, "
             "rows {}, wander {:.3f} over {:.0f}, scale {:.2f}\n",
             machine,
             truth.run_on_mm3,
             truth.flow_index,
             truth.factor,
             100 * (fit.run_on_mm3.value / true_run_on - 1),
             100 * fit.run_on_mm3.sd / fit.run_on_mm3.value,
             fit.flow_index.value - truth.flow_index,
             fit.flow_index.sd,
             fit.readings,
             fit.dense->wander_mm,
             fit.dense->alike_over_mm,
             fit.scatter);
}

ref::Dice dice_of(int machine) { return ref::Dice(static_cast<std::uint64_t>(1000 + machine)); }

Truth truth_of(int machine) {
  ref::Dice dice = dice_of(machine);
  return ring_bench::random_truth(dice);
}

meltlag::fit::FitResult measure(ring_bench::Bench const& bench,
                                ring_bench::Trouble const& trouble,
                                Reading const& reading,
                                int machine) {
  ref::Dice dice = dice_of(machine);
  Truth const truth = ring_bench::random_truth(dice);
  std::uint64_t const roughness = dice.bits();
  auto const hidden = ring_bench::hidden_machine(truth, trouble, dice);
  auto const bead = ring_bench::lay(bench, hidden, trouble, roughness);
  ring_bench::PictureOfWidths picture(bench, {}, dice.bits());
  double const cups = truth.factor * (1 + ring_bench::factor_sd * dice.normal());
  auto const read = reading.dpi > 0 ? by_picture(bench, bead, reading, dice) : picture.take(bead);
  auto const fit = ring_bench::fit_of(bench, read, cups, reading.every_mm);
  tell(machine, truth, fit);
  return fit;
}

void tell(char const* name, Errors const& errors, double seconds) {
  auto const share = [&](int covered) { return 100.0 * covered / errors.cases; };
  fmt::print(
      "{}: median error of run-on {:.1f} %, index {:.3f}, lag {:.1f} %; 95 % intervals cover "
      "{:.1f} %, {:.1f} %, {:.1f} %; scatter/stated {:.2f}, {:.2f}; {} machines, {:.0f} s\n",
      name,
      100 * Errors::median(errors.run_on),
      Errors::median(errors.index),
      100 * Errors::median(errors.lag),
      share(errors.covered_run_on),
      share(errors.covered_index),
      share(errors.covered_lag),
      Errors::pull(errors.run_on_pull),
      Errors::pull(errors.index_pull),
      errors.cases,
      seconds);
  std::fflush(stdout);
}

}  // namespace

int main(int count, char** words) {
  int const machines = count > 1 ? std::atoi(words[1]) : 200;
  int const first = count > 3 ? std::atoi(words[3]) : 0;
  Reading const reading{.every_mm = count > 2 ? std::atof(words[2]) : 2,
                        .dpi = count > 4 ? std::atof(words[4]) : 0,
                        .format = count > 5 ? words[5] : "jpg"};
  ring_bench::Bench const bench = ring_bench::make_bench();
  struct Row {
    char const* name;
    ring_bench::Trouble trouble;
  };
  for (Row const& row : {Row{"quiet feed", {.uneven_mm = 0.05}},
                         Row{"feed wanders by 2 %, pulses by 4 %",
                             {.uneven_mm = 0.05, .wander_share = 0.02, .pulse_share = 0.04}}}) {
    auto const start = std::chrono::steady_clock::now();
    Errors errors;
    for (int i = first; i < first + machines; ++i)
      errors.add(measure(bench, row.trouble, reading, i), truth_of(i));
    double const s =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    tell(row.name, errors, s);
  }
  return 0;
}
