// SPDX-License-Identifier: MIT
// What the rings' bursts tell of hidden machines: burst_study [MACHINES] [FIRST]
// Each prints with no store, 1 and 2.5 mm³ of it, on an even feed and on one that wanders by 2 %
// and pulses by 4 %. A line a print on stderr, medians and coverage on stdout.
#include <fmt/format.h>

#include <cstdlib>

#include "fit/ring_bench.hpp"

namespace {

namespace ref = meltlag_reference;
using meltlag::fit::BurstOutcome;
using Store = BurstOutcome::Store;

struct Counts {
  std::vector<double> flow_off, store_off;
  int prints = 0, starves = 0, flow_covered = 0, told = 0, store_covered = 0;
};

struct Machine {
  synthetic::Truth truth;
  double max_flow_mm3_s = 10, burst_mm3 = 0;
};

BurstOutcome measure(ring_bench::Bench const& bench,
                     ring_bench::Trouble const& trouble,
                     Machine const& machine,
                     ref::Dice dice) {
  auto hidden = ring_bench::hidden_machine(machine.truth, trouble, dice);
  hidden.plant.max_flow_mm3_s = machine.max_flow_mm3_s;
  hidden.plant.burst_mm3 = machine.burst_mm3;
  auto const bead = ring_bench::lay(bench, hidden, trouble, dice.bits());
  ring_bench::PictureOfWidths picture(bench, {}, dice.bits());
  double const cups = machine.truth.factor * (1 + ring_bench::factor_sd * dice.normal());
  return ring_bench::fit_of(bench, picture.take(bead), cups, 2)
      .dense->bursts.value_or(BurstOutcome{});
}

void add(Counts& counts, Machine const& machine, BurstOutcome const& found) {
  ++counts.prints;
  if (!found.starves) return;
  ++counts.starves;
  double const off = found.max_flow_mm3_s.value - machine.max_flow_mm3_s;
  counts.flow_off.push_back(std::abs(off) / machine.max_flow_mm3_s);
  counts.flow_covered += std::abs(off) < 1.96 * found.max_flow_mm3_s.sd;
  fmt::print(stderr,
             "q {:.2f} b {:.1f}: q {:.2f} ± {:.2f}, b {:.2f} to {:.2f}, {}\n",
             machine.max_flow_mm3_s,
             machine.burst_mm3,
             found.max_flow_mm3_s.value,
             found.max_flow_mm3_s.sd,
             found.low_mm3,
             found.high_mm3,
             static_cast<int>(found.store));
  if (found.store != Store::told && found.store != Store::none_seen) return;
  ++counts.told;
  counts.store_off.push_back(std::abs(found.burst_mm3.value - machine.burst_mm3));
  double const low = found.store == Store::none_seen ? 0 : found.low_mm3;
  counts.store_covered += machine.burst_mm3 >= low && machine.burst_mm3 <= found.high_mm3;
}

}  // namespace

int main(int count, char** words) {
  int const machines = count > 1 ? std::atoi(words[1]) : 20;
  int const first = count > 2 ? std::atoi(words[2]) : 0;
  ring_bench::Bench const bench = ring_bench::make_bench();
  for (bool const wanders : {false, true}) {
    ring_bench::Trouble trouble{.uneven_mm = 0.05};
    if (wanders) trouble = {.uneven_mm = 0.05, .wander_share = 0.02, .pulse_share = 0.04};
    Counts counts;
    for (int i = first; i < first + machines; ++i)
      for (double const burst_mm3 : {0.0, 1.0, 2.5}) {
        ref::Dice dice(static_cast<std::uint64_t>(2000 + i));
        Machine machine{.truth = ring_bench::random_truth(dice), .burst_mm3 = burst_mm3};
        machine.max_flow_mm3_s = 9 + 2 * dice.uniform();
        add(counts, machine, measure(bench, trouble, machine, dice));
      }
    fmt::print(
        "{}: {} of {} prints starve; q off by {:.1f} % (median), {} of {} intervals hold; "
        "store told in {}, off by {:.2f} mm³, {} intervals hold\n",
        wanders ? "wanders by 2 %, pulses by 4 %" : "even feed",
        counts.starves,
        counts.prints,
        100 * synthetic::Errors::median(counts.flow_off),
        counts.flow_covered,
        counts.starves,
        counts.told,
        synthetic::Errors::median(counts.store_off),
        counts.store_covered);
  }
  return 0;
}
