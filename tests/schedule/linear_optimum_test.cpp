// SPDX-License-Identifier: MIT
// For n = 1 the problem is a linear program; it is written down a second time, with the rates and
// the run-on after every node as columns, and given to a general simplex solver.
#include <array>
#include <chrono>
#include <tuple>

#include "schedule/written_down.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

LinearProgram write_down(Problem const& problem) {
  return meltlag_test::write_down(problem, {{problem.laws[0], 1}});
}

Lp::Solution optimum(Problem const& problem) { return write_down(problem).lp.solve(); }

void check_against_simplex(Problem const& problem) {
  Lp::Solution const truth = optimum(problem);
  REQUIRE(truth.optimal);
  Optimiser optimiser;
  std::vector<double> rates;
  OptimiseInfo const info = optimiser.optimise(problem, {}, rates);
  double const wanted = wanted_total(problem);
  CAPTURE(truth.objective / wanted * 100);
  CAPTURE(info.misplaced_mm3 / wanted * 100);
  CHECK(info.status == OptimiseStatus::solved);
  CHECK(broken_limit(problem, rates) == "");
  CHECK(info.misplaced_mm3 <= std::max(1.01 * truth.objective, truth.objective + 5e-4 * wanted));
  CHECK(info.misplaced_mm3 >= truth.objective - 5e-4 * wanted);
  CHECK_NEAR(misplaced_percent(problem, rates), 100 * info.misplaced_mm3 / wanted, 1e-9);
}

TEST_SUITE("schedule") {
  TEST_CASE("two beads at n = 1 reach the optimum of the linear program") {
    check_against_simplex(two_beads(1));
  }

  TEST_CASE("random beads at n = 1 reach the optimum of the linear program") {
    for (unsigned seed = 1; seed <= 12; ++seed) {
      CAPTURE(seed);
      check_against_simplex(random_beads(1, 4 + seed % 5, seed));
    }
  }

  TEST_CASE("leak, fixed cuts and decided ends keep the optimum of the linear program") {
    for (unsigned seed = 21; seed <= 26; ++seed) {
      CAPTURE(seed);
      Problem problem = random_beads(1, 6, seed);
      problem.leak_per_s = 0.2;
      problem.feed.delivered_factor = 0.95;
      problem.start_run_on_mm3 = 0.6;
      problem.rate_before = 0.5 * Draft::bead_rate;
      problem.rate_after = 0.2 * Draft::bead_rate;
      problem.jump_before = problem.jump_after = 0.4 * Draft::bead_rate;
      for (std::size_t i = 9; i < problem.cuts.size(); i += 11) problem.cuts[i].fixed = true;
      for (Cut& cut : problem.cuts) cut.rate_low = 0;
      check_against_simplex(problem);
    }
  }

  TEST_CASE("a barrel that may hold little keeps the optimum of the linear program") {
    for (unsigned seed = 31; seed <= 36; ++seed) {
      CAPTURE(seed);
      Problem problem = random_beads(1, 5, seed);
      problem.most_run_on_mm3 = 1.2;
      for (Cut& cut : problem.cuts) cut.rate_low = 0;
      check_against_simplex(problem);
    }
  }

  TEST_CASE("before and after fixed cuts, too, the barrel never holds more than it may") {
    for (unsigned seed : {23U, 24U}) {
      CAPTURE(seed);
      Problem problem = random_beads(1, 6, seed);
      problem.leak_per_s = 0.2;
      problem.start_run_on_mm3 = 0.6;
      problem.most_run_on_mm3 = 1.7;
      for (std::size_t i = 9; i < problem.cuts.size(); i += 11) problem.cuts[i].fixed = true;
      for (Cut& cut : problem.cuts) cut.rate_low = 0;
      REQUIRE(optimum(problem).optimal);  // it can be done
      Optimiser optimiser;
      std::vector<double> rates;
      optimiser.optimise(problem, {}, rates);
      Outcome outcome;
      simulate(problem, rates, outcome);
      CHECK(*std::max_element(outcome.run_on_mm3.begin(), outcome.run_on_mm3.end()) <=
            problem.most_run_on_mm3 + 1e-3);
    }
  }

  TEST_CASE("the optimiser is many times as fast as a general simplex solver") {
    Problem const problem = random_beads(1, 150, 77);
    auto const seconds = [](auto const& work) {
      auto const before = std::chrono::steady_clock::now();
      work();
      return std::chrono::duration<double>(std::chrono::steady_clock::now() - before).count();
    };
    LinearProgram const linear = write_down(problem);
    std::array<double, 5> ratios{};
    for (double& ratio : ratios) {
      Optimiser optimiser;
      std::vector<double> rates;
      double const simplex = seconds([&] { CHECK(linear.lp.solve().optimal); });
      double const band = seconds([&] { optimiser.optimise(problem, {}, rates); });
      ratio = simplex / band;
    }
    std::sort(ratios.begin(), ratios.end());
    MESSAGE(problem.cuts.size(), " cuts: ", ratios[2], " times as fast");
    CHECK(ratios[2] >= 4);  // near 28 when quiet; sanitizers slow our side alone
  }
}

}  // namespace
