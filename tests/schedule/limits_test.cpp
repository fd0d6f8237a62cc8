// SPDX-License-Identifier: MIT
#include "schedule/drafts.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

TEST_SUITE("schedule") {
  TEST_CASE("rates, junctions and fixed cuts keep their limits for every law") {
    for (double n : {1.0, 0.7, 0.5, 0.35}) {
      for (unsigned seed = 1; seed <= 6; ++seed) {
        CAPTURE(n);
        CAPTURE(seed);
        Problem problem = random_beads(n, 5, seed);
        for (std::size_t i = 5; i < problem.cuts.size(); i += 9) problem.cuts[i].fixed = true;
        Optimiser optimiser;
        std::vector<double> rates;
        OptimiseInfo const info = optimiser.optimise(problem, {}, rates);
        REQUIRE(rates.size() == problem.cuts.size());
        CHECK(broken_limit(problem, rates) == "");
        CHECK(info.misplaced_mm3 <= info.start_mm3);
        CHECK_NEAR(misplaced_percent(problem, rates),
                   100 * info.misplaced_mm3 / wanted_total(problem),
                   1e-9);
      }
    }
  }

  TEST_CASE("after a wait of unknown length the nozzle is filled again") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.cuts[12].run_out_after = true;  // amid the first bead
      problem.cuts[12].jump_to_next = std::numeric_limits<double>::infinity();
      std::vector<double> const rates = optimised(problem);
      CHECK(broken_limit(problem, rates) == "");
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(outcome.run_on_mm3[13] == 0);
      double const result = misplaced_percent(problem, rates);
      std::vector<double> const unaware = optimised(two_beads(n));
      CHECK(result < misplaced_percent(problem, unaware));
    }
  }

  TEST_CASE("the cut before a wait keeps its limits and is served like any other") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      for (Cut& cut : problem.cuts) cut.jump_to_next = 0.3 * Draft::bead_rate;
      problem.cuts[12].run_out_after = true;
      problem.cuts[12].jump_to_next = std::numeric_limits<double>::infinity();
      double const good_start = misplaced_percent(problem, optimised(problem));
      problem.cuts[12].rate = 0;  // a worse start
      std::vector<double> const rates = optimised(problem);
      CHECK(broken_limit(problem, rates) == "");
      CHECK(misplaced_percent(problem, rates) <= good_start + 0.05);
    }
  }

  TEST_CASE("the screw's limits come first where the nozzle cannot but run empty") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);  // starts with no run-on
      problem.rate_before = -0.5 * Draft::bead_rate;
      problem.jump_before = 0.3 * Draft::bead_rate;
      for (Cut& cut : problem.cuts) cut.jump_to_next = 0.5 * Draft::bead_rate;
      // Such rates exist: climb from the rate before in equal steps, then stay.
      std::vector<double> climb;
      for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
        climb.push_back(Draft::bead_rate *
                        std::min(1.0, -0.5 + 0.3 * (static_cast<double>(i) + 1)));
      }
      REQUIRE(broken_limit(problem, climb) == "");
      CHECK(broken_limit(problem, optimised(problem)) == "");
    }
  }

  TEST_CASE("the rates decided before and after hold through the permitted jumps") {
    for (double n : {1.0, 0.5}) {
      for (double before : {-0.5, 0.0, 2.0}) {
        CAPTURE(n);
        CAPTURE(before);
        Problem problem = two_beads(n);
        problem.start_run_on_mm3 = 0.5;
        problem.rate_before = before * Draft::bead_rate;
        problem.rate_after = 1.0 * Draft::bead_rate;
        problem.jump_before = 0.3 * Draft::bead_rate;
        problem.jump_after = 0.1 * Draft::bead_rate;
        for (Cut& cut : problem.cuts) cut.jump_to_next = 0.5 * Draft::bead_rate;
        CHECK(broken_limit(problem, optimised(problem)) == "");
      }
    }
  }

  TEST_CASE("the barrel never holds more than it may") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = random_beads(n, 5, 8);
      Outcome outcome;
      simulate(problem, optimised(problem), outcome);
      double const free = *std::max_element(outcome.run_on_mm3.begin(), outcome.run_on_mm3.end());
      problem.most_run_on_mm3 = 0.8 * free;
      simulate(problem, optimised(problem), outcome);
      double const bound = *std::max_element(outcome.run_on_mm3.begin(), outcome.run_on_mm3.end());
      CHECK(bound <= problem.most_run_on_mm3 + 1e-3);
    }
  }
}

}  // namespace
