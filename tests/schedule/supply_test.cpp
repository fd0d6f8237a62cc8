// SPDX-License-Identifier: MIT
// What the screw can feed, against an exact linear program for n = 1 with the same rows and the
// order of use of the optimiser's own result.
#include <random>
#include <string>

#include "schedule/from_moves.hpp"
#include "schedule/supply_program.hpp"
#include "schedule/supply_samples.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

LagLaw with_lag(double lag_s) {
  LagLaw law = law_of(1);
  law.run_on_mm3 = lag_s * law.at_flow_mm3_s;
  return law;
}

double starved_mm3(Problem const& problem, std::vector<double> const& rates) {
  Outcome outcome;
  simulate(problem, rates, outcome);
  return outcome.starved_mm3.back();
}

void check_against_program(Problem problem, double burst_mm3) {
  problem.supply.burst_mm3 = burst_mm3;
  std::vector<double> const rates = optimised(problem);
  CHECK(broken_limit(problem, rates) == "");
  double const wanted = wanted_total(problem);
  CHECK(starved_mm3(problem, rates) <= 0.001 * wanted);
  Lp::Solution const truth = write_down_supplied(problem, rates).lp.solve();
  REQUIRE(truth.optimal);
  double const least = 100 * truth.objective / wanted;
  double const reached = misplaced_percent(problem, rates);
  MESSAGE("burst ", burst_mm3, ": ", reached, " %, program ", least, " %");
  CHECK(reached <= 1.03 * least);
}

// Beads with a stop and a dry travel between them.
Problem beads_with_stops(unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> length(4, 25), speed(22, 40);
  PartText part(0.08, 1.0);
  part.travel(5, 0);
  double x = 5;
  for (int bead = 0; bead < 8; ++bead) {
    part.to(x += length(random), 0, speed(random));
    part.hop(x += 6, 0);
  }
  part.to(x + 10, 0, 30);
  return problem_of(part.text(), with_lag(0.3), bench_limits());
}

Problem limited(Problem problem, double max_flow_mm3_s, double burst_mm3) {
  problem.supply.max_flow_mm3_s = max_flow_mm3_s;
  problem.supply.burst_mm3 = burst_mm3;
  return problem;
}

TEST_SUITE("schedule") {
  TEST_CASE("beads with stops come within 3 % of the program with the screw's limits") {
    for (unsigned seed = 1; seed <= 4; ++seed) {
      CAPTURE(seed);
      for (double const burst : {0.0, 1.0, 3.0})
        check_against_program(limited(beads_with_stops(seed), 9, 0), burst);
    }
  }

  TEST_CASE("a bench sample comes within 3 % of the program with the screw's limits") {
    for (double const lag : {0.3, 1.0}) {
      CAPTURE(lag);
      Problem const problem = problem_of(walls_ring_and_rows(), with_lag(lag), bench_limits());
      for (double const burst : {0.0, 1.0, 3.0})
        check_against_program(limited(problem, 15, 0), burst);
    }
  }

  // Their last moment is slower than the screw feeds for long, most of their way far faster.
  TEST_CASE("retracts that empty the nozzle come within 3 % of the program without a store") {
    PartText part(0.075, 5.0);
    part.travel(5, 0);
    for (int bead = 0; bead < 6; ++bead) part.to(25.0 * bead + 20, 0, 30).hop(25.0 * bead + 25, 0);
    for (double const lag : {0.3, 1.0}) {
      CAPTURE(lag);
      Problem const problem = problem_of(part.text(), with_lag(lag), bench_limits());
      check_against_program(limited(problem, 15, 0), 0);
    }
  }

  TEST_CASE("a foot with holes near the feed limit comes within 3 % of the program") {
    for (double const lag : {0.24, 0.5}) {
      CAPTURE(lag);
      Problem const problem = problem_of(foot_with_holes(), with_lag(lag), bench_limits(1000));
      for (double const burst : {0.0, 1.0, 3.0})
        check_against_program(limited(problem, 8.2, 0), burst);
    }
  }

  TEST_CASE("what a screw without limits reaches is reached under limits that never matter") {
    for (unsigned seed = 1; seed <= 4; ++seed) {
      CAPTURE(seed);
      Problem const problem = beads_with_stops(seed);
      double const free = misplaced_percent(problem, optimised(problem));
      Problem const wide = limited(problem, 1e4, 0);
      // An empty nozzle is found by more rounds: not worse, then.
      CHECK(misplaced_percent(wide, optimised(wide)) <= free + 0.1);
      Problem forward = random_beads(1, 6, seed);  // never empty
      for (Cut& cut : forward.cuts) cut.rate_low = 0;
      Problem const wide_forward = limited(forward, 1e4, 0);
      CHECK_NEAR(misplaced_percent(wide_forward, optimised(wide_forward)),
                 misplaced_percent(forward, optimised(forward)),
                 0.1);
    }
  }

  TEST_CASE("random problems keep all limits, never starve and agree with the plant") {
    std::mt19937 random(5);
    std::uniform_real_distribution<double> flow(6, 14);
    for (unsigned seed = 61; seed <= 72; ++seed) {
      CAPTURE(seed);
      Problem const problem =
          limited(random_beads(seed % 3 == 0 ? 0.6 : 1, 6, seed), flow(random), seed % 2);
      std::vector<double> const rates = optimised(problem);
      CHECK(broken_limit(problem, rates) == "");
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(outcome.starved_mm3.back() <= 0.001 * wanted_total(problem));
      auto const nodes = supply_along(problem, rates);
      double fed = -outcome.starved_mm3.back(), got = outcome.run_on_mm3.back();
      for (std::size_t i = 0; i < rates.size(); ++i) {
        Cut const& cut = problem.cuts[i];
        NodeSupply const& last = nodes[cut.first_node + cut.nodes - 1];
        CHECK_NEAR(outcome.wound_back_mm3[i], last.wound_out_mm3, 1e-9);
        CHECK_NEAR(outcome.store_mm3[i], last.store_out_mm3, 1e-9);
      }
      for (std::size_t j = 0; j < nodes.size(); ++j)
        fed += problem.nodes[j].duration_s * (nodes[j].start_mm3_s + nodes[j].end_mm3_s) / 2;
      for (double const mm3 : outcome.got_mm3) got += mm3;
      CHECK_NEAR(got, fed, 1e-6 * wanted_total(problem));
    }
  }

  TEST_CASE("a larger store is never worse") {
    for (unsigned seed = 1; seed <= 4; ++seed) {
      CAPTURE(seed);
      double before = 1e9;
      for (double const burst : {0.0, 0.3, 1.0, 3.0}) {
        CAPTURE(burst);
        Problem const problem = limited(beads_with_stops(seed), 9, burst);
        double const reached = misplaced_percent(problem, optimised(problem));
        CHECK(reached <= 1.01 * before);
        before = std::min(before, reached);
      }
    }
  }
}

}  // namespace
