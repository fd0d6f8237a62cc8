// SPDX-License-Identifier: MIT
#include "meltlag/schedule/robust.hpp"

#include <cmath>
#include <span>

#include "schedule/written_down.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

std::span<Scenario const> judges(Plants const& plants) {
  return std::span(plants).last(judge_count);
}

// Deviations and correlation of a set's (ln S, n).
struct Moments {
  double weight = 0, run_on = 0, index = 0, run_on_sd = 0, index_sd = 0, correlation = 0;
};

Moments moments_of(std::span<Scenario const> plants) {
  Moments m;
  double aa = 0, bb = 0, ab = 0;
  for (Scenario const& p : plants) {
    double const a = std::log(p.run_on_factor), b = p.flow_index_shift;
    m.weight += p.weight;
    m.run_on += p.weight * a;
    m.index += p.weight * b;
    aa += p.weight * a * a;
    bb += p.weight * b * b;
    ab += p.weight * a * b;
  }
  m.run_on_sd = std::sqrt(aa);
  m.index_sd = std::sqrt(bb);
  m.correlation = ab / std::sqrt(aa * bb);
  return m;
}

// Mean over the judges, as a share of what is wanted, in percent.
double expected_percent(Problem problem, Plants const& plants, std::vector<double> const& rates) {
  LagLaw const believed = problem.laws[0];
  double sum = 0;
  for (Scenario const& plant : judges(plants)) {
    problem.laws[0] = law_in(plant, believed);
    sum += plant.weight * misplaced_percent(problem, rates);
  }
  return sum;
}

TEST_SUITE("schedule") {
  TEST_CASE("the plants that stand for an uncertainty have its deviations and correlation") {
    for (double const correlation : {0.0, -0.8, 0.5}) {
      LagSpread const spread{
          .run_on_share_sd = 0.3, .flow_index_sd = 0.12, .correlation = correlation};
      Scenarios const few = scenarios_of(spread);
      Plants const all = plants_of(spread);
      for (std::span<Scenario const> const set : {std::span<Scenario const>(few), judges(all)}) {
        Moments const m = moments_of(set);
        CHECK_NEAR(m.weight, 1, 1e-12);
        CHECK_NEAR(m.run_on, 0, 1e-12);
        CHECK_NEAR(m.index, 0, 1e-12);
        CHECK_NEAR(m.run_on_sd, 0.3, 0.001);
        CHECK_NEAR(m.index_sd, 0.12, 0.001);
        CHECK_NEAR(m.correlation, correlation, 1e-9);
      }
    }
  }

  TEST_CASE("a schedule for an uncertain run-on gains most of what the linear program could") {
    // The program knows the judges and nothing else, so that no schedule has a smaller mean.
    double could = 0, gained = 0;
    for (unsigned seed = 41; seed <= 46; ++seed) {
      CAPTURE(seed);
      Problem problem = random_beads(1, 6, seed);
      // A screw that cannot turn back leaves no nozzle empty: then all of it is linear.
      for (Cut& cut : problem.cuts) cut.rate_low = 0;
      Plants const plants = plants_of({.run_on_share_sd = 0.3});
      std::vector<WeightedLaw> laws;
      for (Scenario const& plant : judges(plants))
        laws.push_back({law_in(plant, problem.laws[0]), plant.weight});
      Lp::Solution const truth = write_down(problem, laws).lp.solve();
      REQUIRE(truth.optimal);
      double const least = 100 * truth.objective / wanted_total(problem);
      std::vector<double> const plain = optimised(problem);
      std::vector<double> rates = plain;
      RobustOptimiser optimiser;
      constexpr double any_loss = 10;
      optimiser.improve(problem, plants, {}, any_loss, rates);
      CHECK(broken_limit(problem, rates) == "");
      double const before = expected_percent(problem, plants, plain);
      double const after = expected_percent(problem, plants, rates);
      CHECK(after >= least - 0.01);
      CHECK(after <= before);
      could += before - least;
      gained += before - after;
    }
    MESSAGE("mean over the plants: ", gained / 6, " of ", could / 6, " points");
    CHECK(could > 0.5);
    CHECK(gained >= 0.75 * could);
  }

  TEST_CASE("a schedule for an uncertain lag loses no more as believed than it may") {
    for (double const index : {1.0, 0.5}) {
      for (unsigned seed = 51; seed <= 54; ++seed) {
        CAPTURE(index);
        CAPTURE(seed);
        Problem const problem = random_beads(index, 6, seed);
        std::vector<double> const plain = optimised(problem);
        std::vector<double> rates = plain;
        RobustOptimiser optimiser;
        Plants const plants = plants_of({.run_on_share_sd = 0.3, .flow_index_sd = 0.12});
        optimiser.improve(problem, plants, {}, 0.08, rates);
        CHECK(broken_limit(problem, rates) == "");
        CHECK(misplaced_percent(problem, rates) <= 1.0801 * misplaced_percent(problem, plain));
        CHECK(expected_percent(problem, plants, rates) < expected_percent(problem, plants, plain));
      }
    }
  }

  TEST_CASE("without an uncertainty every plant is the believed one") {
    CHECK(!LagSpread{}.known());
    for (Scenario const& p : plants_of({})) {
      CHECK(p.run_on_factor == 1);
      CHECK(p.flow_index_shift == 0);
    }
  }
}

}  // namespace
