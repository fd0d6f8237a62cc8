// SPDX-License-Identifier: MIT
// What adapting gains, told by the slow reference from the emitted text alone.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include "adapt_sample.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

struct Gain {
  meltlag_reference::Verdict before, after;
  [[nodiscard]] double share() const { return after.misplaced_percent / before.misplaced_percent; }
};

Gain judge_by_reference(std::string const& original,
                        std::string const& emitted,
                        melt::PlantParameters const& plant) {
  auto const truth = reference_plant(plant);
  return {meltlag_reference::judge(original, original, truth, {}),
          meltlag_reference::judge(original, emitted, truth, {})};
}

void check_invariants(std::string const& original,
                      std::string const& emitted,
                      melt::PlantParameters const& plant) {
  auto const broken = broken_promises(original, emitted, plant);
  CHECK_MESSAGE(broken.empty(), all_of(broken));
}

struct Bench {
  double lag_s, flow_index, most_share;
};

// Adapts our part for one lag and demands the share at most.
void check_gain(Bench const& bench) {
  CAPTURE(bench.lag_s);
  CAPTURE(bench.flow_index);
  std::string const part = bench_part();
  auto const plant = plant_of(bench.lag_s, bench.flow_index);
  Adapted const adapted = adapt_text(part, options_for(plant));
  Gain const gain = judge_by_reference(part, adapted.text, plant);
  MESSAGE(
      fmt::format("lag {} s, n {}: misplaced {:.2f} -> {:.2f} %, share {:.3f}; {:.2f} -> {:.2f} s",
                  bench.lag_s,
                  bench.flow_index,
                  gain.before.misplaced_percent,
                  gain.after.misplaced_percent,
                  gain.share(),
                  gain.before.planned_s,
                  gain.after.planned_s));
  CHECK(gain.share() <= bench.most_share);
  CHECK(gain.after.bead_error_percent < gain.before.bead_error_percent);
  CHECK(gain.after.planned_s <= 1.0001 * gain.before.planned_s);
  check_invariants(part, adapted.text, plant);
  judge::JudgeOptions figures = bench_options();
  figures.plant = plant;
  judge::Judgement const own = judge_texts(part, adapted.text, figures);
  CHECK_FALSE(own.parting.has_value());
  CHECK(own.violation_count == 0);
  CHECK_NEAR(100 * own.before.misplaced_share(), gain.before.misplaced_percent, 0.2 /* points */);
  CHECK_NEAR(100 * own.after.misplaced_share(), gain.after.misplaced_percent, 0.2 /* points */);
}

struct Wrong {
  double run_on_factor, flow_index_off;
};

// Adapts for a plant that is off, judges on the true one.
void check_wrong_profile(melt::PlantParameters const& truth) {
  std::string const part = bench_part();
  std::string table = "adapted for a wrong profile, misplaced % on the true one\n";
  for (Wrong const wrong : {Wrong{0.7, 0}, Wrong{1.3, 0}, Wrong{1, -0.15}, Wrong{1, 0.15}}) {
    CAPTURE(wrong.run_on_factor);
    CAPTURE(wrong.flow_index_off);
    melt::PlantParameters believed = truth;
    believed.law.run_on_mm3 *= wrong.run_on_factor;
    believed.law.flow_index += wrong.flow_index_off;
    Adapted const adapted = adapt_text(part, options_for(believed));
    Gain const gain = judge_by_reference(part, adapted.text, truth);
    table += fmt::format("  run-on x {:.1f}, index {:+.2f}: {:5.2f} -> {:5.2f}\n",
                         wrong.run_on_factor,
                         wrong.flow_index_off,
                         gain.before.misplaced_percent,
                         gain.after.misplaced_percent);
    CHECK(gain.share() < 0.65);
  }
  MESSAGE(table);
}

// Adapts for a plant with a second-order effect and judges with it.
Gain gain_on(melt::PlantParameters const& plant) {
  std::string const part = bench_part();
  Adapted const adapted = adapt_text(part, options_for(plant));
  check_invariants(part, adapted.text, plant);
  return judge_by_reference(part, adapted.text, plant);
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("adapting for a linear lag takes away most of the misplaced plastic") {
    for (Bench const bench : {Bench{0.1, 1, 0.24}, Bench{0.3, 1, 0.32}, Bench{1, 1, 0.31}})
      check_gain(bench);
  }

  TEST_CASE("adapting for a power-law lag takes away most of the misplaced plastic") {
    for (Bench const bench : {Bench{0.3, 0.5, 0.32}, Bench{1, 0.5, 0.31}}) check_gain(bench);
  }

  TEST_CASE("a profile that is wrong by a third still makes a linear plant better") {
    check_wrong_profile(plant_of(0.3, 1));
    check_wrong_profile(plant_of(1, 1));
  }

  TEST_CASE("a profile that is wrong by a third still makes a power-law plant better") {
    check_wrong_profile(plant_of(0.3, 0.5));
  }

  TEST_CASE("backlash, a weak reverse stroke and a leak are reckoned with") {
    for (double const lag_s : {0.3, 1.0}) {
      CAPTURE(lag_s);
      melt::PlantParameters backlash = plant_of(lag_s, 1), reverse = backlash, leak = backlash;
      backlash.feed.backlash_mm = 0.2;
      reverse.feed.reverse_factor = 0.6;
      leak.leak_per_s = 0.1;
      CHECK(gain_on(backlash).share() < 0.7);
      CHECK(gain_on(reverse).share() < 0.7);
      CHECK(gain_on(leak).share() < 0.7);
    }
  }

  TEST_CASE("a screw that delivers less than told is made up for") {
    melt::PlantParameters weak = plant_of(0.3, 1);
    weak.feed.delivered_factor = 0.9;
    Gain const gain = gain_on(weak);
    CHECK(gain.share() < 0.5);
    CHECK_NEAR(gain.after.got_on_path_mm3, gain.after.wanted_mm3, 0.02 * gain.after.wanted_mm3);
  }
}
