// SPDX-License-Identifier: MIT
#include <random>

#include "schedule/drafts.hpp"
#include "schedule/fine_steps.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

void check_against_fine_steps(Problem const& problem, std::vector<double> const& rates) {
  Outcome outcome;
  simulate(problem, rates, outcome);
  FineOutcome const fine = follow_finely(problem, rates);
  double const volume = wanted_total(problem) / static_cast<double>(problem.wanted_mm3.size());
  REQUIRE(outcome.got_mm3.size() == fine.got_mm3.size());
  REQUIRE(outcome.run_on_mm3.size() == fine.run_on_mm3.size());
  for (std::size_t c = 0; c < fine.got_mm3.size(); ++c) {
    CAPTURE(c);
    CHECK_NEAR(outcome.got_mm3[c], fine.got_mm3[c], 1e-5 * (volume + fine.got_mm3[c]));
  }
  for (std::size_t i = 0; i < fine.run_on_mm3.size(); ++i) {
    CAPTURE(i);
    CHECK_NEAR(outcome.run_on_mm3[i], fine.run_on_mm3[i], 1e-5 * 1.5);
  }
}

std::vector<double> random_rates(Problem const& problem, double low, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> factor(low, 2);
  std::vector<double> rates;
  for (std::size_t i = 0; i < problem.cuts.size(); ++i) {
    rates.push_back(Draft::bead_rate * factor(random));
  }
  return rates;
}

TEST_SUITE("schedule") {
  TEST_CASE("forward rates lead to the volumes of a fine-step integration for every law") {
    for (double n : {1.0, 0.5, 0.7, 0.35}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.start_run_on_mm3 = 0.4;
      check_against_fine_steps(problem, as_written(problem));
      check_against_fine_steps(problem, random_rates(problem, 0.1, 3));
    }
  }

  TEST_CASE("leak, delivered factor and reverse factor enter as in the equation") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.start_run_on_mm3 = 1.2;
      problem.leak_per_s = 0.4;
      problem.feed.delivered_factor = 0.9;
      problem.feed.reverse_factor = 0.6;
      check_against_fine_steps(problem, random_rates(problem, -0.4, 5));
    }
  }

  TEST_CASE("a nozzle that a long reverse stroke emptied gives nothing until it is refilled") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.start_run_on_mm3 = 0.2;
      std::vector<double> rates = as_written(problem);
      for (std::size_t i = 0; i < 4; ++i) rates[i] = -0.3 * Draft::bead_rate;
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(*std::min_element(outcome.run_on_mm3.begin(), outcome.run_on_mm3.end()) < -0.01);
      CHECK(*std::min_element(outcome.got_mm3.begin(), outcome.got_mm3.end()) > -1e-6);
      check_against_fine_steps(problem, rates);
    }
  }

  TEST_CASE("what the screw feeds is found again in cells, run-on and nowhere else") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem const problem = two_beads(n);
      Outcome outcome;
      simulate(problem, as_written(problem), outcome);
      double got = 0;
      for (double g : outcome.got_mm3) got += g;
      CHECK_NEAR(got + outcome.run_on_mm3.back(), wanted_total(problem), 1e-9);
    }
  }

  TEST_CASE("a steady screw reaches the run-on of its flow") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Draft draft(law_of(n));
      draft.bead({.seconds = 8, .start_mm_s = 40, .end_mm_s = 40, .cuts = 100});
      Outcome outcome;
      simulate(draft.problem(), as_written(draft.problem()), outcome);
      double const flow = Draft::bead_rate * filament_mm2 * 40;
      CHECK_CLOSE(outcome.run_on_mm3.back(), 1.5 * std::pow(flow / 5, n), 1e-6);
      CHECK_CLOSE(outcome.got_mm3.back(), draft.problem().wanted_mm3.back(), 1e-6);
    }
  }

  TEST_CASE("a wait of unknown length lets run-on go uncounted and leaves an empty nozzle empty") {
    for (double n : {1.0, 0.5}) {
      CAPTURE(n);
      Problem problem = two_beads(n);
      problem.cuts[10].run_out_after = true;
      std::vector<double> rates = as_written(problem);
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(outcome.run_on_mm3[10] > 0.1);
      CHECK(outcome.run_on_mm3[11] == 0);
      check_against_fine_steps(problem, rates);
      problem.start_run_on_mm3 = -5;
      simulate(problem, rates, outcome);
      CHECK(outcome.run_on_mm3[11] < -1);
    }
  }

  TEST_CASE("backlash swallows a reversal's stroke both ways") {
    Draft draft(law_of(1));
    draft.bead({.seconds = 0.2, .start_mm_s = 40, .end_mm_s = 40, .cuts = 2});  // 0.2 mm of E each
    draft.bead({.seconds = 0.1, .start_mm_s = 40, .end_mm_s = 40});
    Problem& problem = draft.problem();
    problem.feed.backlash_mm = 0.15;
    problem.start_run_on_mm3 = 3;
    std::vector<double> rates{0.05, -0.05, 0.05};
    Outcome with_backlash, without;
    simulate(problem, rates, with_backlash);
    CHECK_NEAR(with_backlash.backlash_mm3[0], 0.15 * filament_mm2, 1e-12);
    CHECK_NEAR(with_backlash.backlash_mm3[1], 0, 1e-12);
    CHECK_NEAR(with_backlash.backlash_mm3[2], 0.15 * filament_mm2, 1e-12);
    problem.feed.backlash_mm = 0;
    simulate(problem, rates, without);
    CHECK(with_backlash.run_on_mm3[2] > without.run_on_mm3[2] + 0.1);
    CHECK(with_backlash.run_on_mm3[1] == without.run_on_mm3[1]);
  }

  TEST_CASE("misplaced is the sum of what cells got too much or too little") {
    Problem const problem = two_beads(0.5);
    Outcome outcome;
    simulate(problem, as_written(problem), outcome);
    double sum = 0;
    for (std::size_t c = 0; c < outcome.got_mm3.size(); ++c) {
      sum += std::abs(outcome.got_mm3[c] - problem.wanted_mm3[c]);
    }
    CHECK_NEAR(outcome.misplaced_mm3, sum, 1e-12);
    CHECK(sum > 0);
  }
}

}  // namespace
