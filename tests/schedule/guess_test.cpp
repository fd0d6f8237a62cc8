// SPDX-License-Identifier: MIT
// Where long files begin, and what fewer rounds from there lose.
#include "meltlag/schedule/guess.hpp"

#include <doctest/doctest.h>

#include "drafts.hpp"
#include "support/near.hpp"

using namespace meltlag::schedule;
using namespace meltlag_test;

namespace {

// A bead that slows down and goes on as before, fed up to `max_flow_mm3_s`.
Problem slow_corner(double max_flow_mm3_s) {
  Draft draft(law_of(1));
  draft.bead({.seconds = 2, .start_mm_s = 40, .end_mm_s = 40, .cuts = 20})
      .bead({.seconds = 0.2, .start_mm_s = 40, .end_mm_s = 10, .cuts = 4})
      .bead({.seconds = 0.2, .start_mm_s = 10, .end_mm_s = 40, .cuts = 4})
      .bead({.seconds = 2, .start_mm_s = 40, .end_mm_s = 40, .cuts = 20});
  Problem problem = draft.problem();
  problem.supply.max_flow_mm3_s = max_flow_mm3_s;
  // The run-on of the steady flow: 1.5 mm³ at 5 mm³/s.
  problem.start_run_on_mm3 = 0.3 * Draft::bead_rate * filament_mm2 * 40;
  return problem;
}

std::vector<double> guessed(Problem const& problem) {
  std::vector<double> rates = as_written(problem);
  guess_rates(problem, rates);
  return rates;
}

// Lines to and fro, so fast that turning back costs far more than the screw's limits allow.
Problem lines(double max_flow_mm3_s, int count) {
  Draft draft(law_of(1));
  for (int i = 0; i < count; ++i) {
    draft.bead({.seconds = 0.06, .start_mm_s = 8, .end_mm_s = 60, .cuts = 3})
        .bead({.seconds = 0.5, .start_mm_s = 60, .end_mm_s = 60, .cuts = 20})
        .bead({.seconds = 0.06, .start_mm_s = 60, .end_mm_s = 8, .cuts = 3});
  }
  Problem problem = draft.problem();
  problem.supply.max_flow_mm3_s = max_flow_mm3_s;
  return problem;
}

}  // namespace

TEST_SUITE("schedule") {
  TEST_CASE("a guess leaves a steady flow as it is, turns slower where it falls and faster after") {
    Problem const problem = slow_corner(12);
    std::vector<double> const rates = guessed(problem);
    CHECK(broken_limit(problem, rates) == "");
    for (std::size_t i : {0U, 10U, 18U, 30U, 47U}) CHECK_NEAR(rates[i], Draft::bead_rate, 1e-12);
    for (std::size_t i : {20U, 22U, 23U}) CHECK(rates[i] < 0.9 * Draft::bead_rate);
    for (std::size_t i : {24U, 25U, 26U}) CHECK(rates[i] > 1.1 * Draft::bead_rate);
  }

  TEST_CASE("nothing is guessed where more is wanted than can be fed") {
    Problem const problem = slow_corner(4);  // 4.8 mm³/s are wanted
    CHECK(guessed(problem) == as_written(problem));
  }

  TEST_CASE("given rates stay as they are") {
    Problem problem = slow_corner(12);
    for (std::size_t i = 20; i < 28; ++i) problem.cuts[i].fixed = true;
    std::vector<double> const rates = guessed(problem);
    for (std::size_t i = 20; i < 28; ++i) CHECK(rates[i] == Draft::bead_rate);
  }

  TEST_CASE("sparing rounds take less work and lose little, window after window") {
    Optimiser optimiser;  // the same one: it learns
    int sparing_steps = 0, usual_steps = 0;
    for (int window = 0; window < 20; ++window) {
      CAPTURE(window);
      Problem const problem = lines(8 + 0.5 * window, 12);
      std::vector<double> rates = as_written(problem), usual = rates;
      OptimiseInfo const info = optimiser.optimise(problem, {.sparing = true}, rates);
      OptimiseInfo const of_usual = Optimiser().optimise(problem, {}, usual);
      CHECK(info.status == OptimiseStatus::solved);
      CHECK(broken_limit(problem, rates, 1e-4) == "");
      CHECK(misplaced_percent(problem, rates) < misplaced_percent(problem, usual) + 0.05);
      sparing_steps += info.steps;
      usual_steps += of_usual.steps;
    }
    CHECK(sparing_steps < usual_steps);
  }

  TEST_CASE("from a guess another place may be found, better or worse by less than a point") {
    for (double const flow : {9.0, 12.0, 20.0}) {
      CAPTURE(flow);
      Problem const problem = lines(flow, 12);
      std::vector<double> rates = guessed(problem), given = as_written(problem);
      double const start = misplaced_percent(problem, given);
      (void)Optimiser().optimise(problem, {.sparing = true}, rates);
      (void)Optimiser().optimise(problem, {.sparing = true}, given);
      CHECK(broken_limit(problem, rates, 1e-4) == "");
      CHECK(misplaced_percent(problem, given) < 0.6 * start);
      CHECK_NEAR(misplaced_percent(problem, rates), misplaced_percent(problem, given), 1);
    }
  }
}
