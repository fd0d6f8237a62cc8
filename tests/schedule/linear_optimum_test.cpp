// SPDX-License-Identifier: MIT
// For n = 1 the problem is a linear program; it is written down a second time, with the rates and
// the run-on after every node as columns, and given to a general simplex solver.
#include <array>
#include <chrono>
#include <tuple>

#include "schedule/drafts.hpp"
#include "solve/clp_lp.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::schedule;
using namespace meltlag_test;

// Run-on after a node: decay·W + by_rate·r, from dW/dt = r·g·v(t) − λ·W with v linear in time.
struct NodeAnswer {
  double decay, by_rate, fed_by_rate;
};

NodeAnswer answer(Problem const& problem, Node const& node) {
  LagLaw const& law = problem.laws[0];
  double const loss = law.at_flow_mm3_s / law.run_on_mm3 + problem.leak_per_s;
  double const h = node.duration_s, v = node.start_mm_s, slope = (node.end_mm_s - v) / h;
  double const gain = filament_mm2 * problem.feed.delivered_factor;
  double const decay = std::exp(-loss * h);
  // A particular solution is (v(t) − slope/λ)/λ.
  double const end = (node.end_mm_s - slope / loss) / loss, begin = (v - slope / loss) / loss;
  return {decay, gain * (end - decay * begin), gain * h * (v + node.end_mm_s) / 2};
}

struct LinearProgram {
  Lp lp;
  std::vector<int> rate_columns;
};

void add_joint(Lp& lp, int before, int after, double jump) {
  if (std::isfinite(jump)) lp.add_row(-jump, jump, {{after, 1}, {before, -1}});
}

LinearProgram write_down(Problem const& problem) {
  LinearProgram result;
  Lp& lp = result.lp;
  double const nozzle = problem.laws[0].at_flow_mm3_s / problem.laws[0].run_on_mm3;
  double const share = nozzle / (nozzle + problem.leak_per_s);
  std::vector<std::vector<std::pair<int, double>>> cells(problem.wanted_mm3.size());
  int run_on = lp.add_column(0, problem.start_run_on_mm3, problem.start_run_on_mm3);
  for (Cut const& cut : problem.cuts) {
    int const rate = cut.fixed ? lp.add_column(0, cut.rate, cut.rate)
                               : lp.add_column(0, cut.rate_low, cut.rate_high);
    result.rate_columns.push_back(rate);
    for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
      NodeAnswer const a = answer(problem, problem.nodes[j]);
      bool const last = j + 1 == cut.first_node + cut.nodes;
      double const most =
          std::isfinite(problem.most_run_on_mm3) ? problem.most_run_on_mm3 : infinity;
      int const next = lp.add_column(0, last ? 0 : -infinity, last ? most : infinity);
      lp.add_row(0, 0, {{next, 1}, {run_on, -a.decay}, {rate, -a.by_rate}});
      auto& cell = cells[problem.nodes[j].cell];
      cell.insert(cell.end(), {{run_on, share}, {rate, share * a.fed_by_rate}, {next, -share}});
      run_on = next;
    }
  }
  for (std::size_t c = 0; c < cells.size(); ++c) {
    cells[c].emplace_back(lp.add_column(1, 0, infinity), -1);
    cells[c].emplace_back(lp.add_column(1, 0, infinity), 1);
    lp.add_row(problem.wanted_mm3[c], problem.wanted_mm3[c], cells[c]);
  }
  for (std::size_t i = 0; i + 1 < problem.cuts.size(); ++i) {
    add_joint(lp, result.rate_columns[i], result.rate_columns[i + 1], problem.cuts[i].jump_to_next);
  }
  if (problem.rate_before) {
    int const before = lp.add_column(0, *problem.rate_before, *problem.rate_before);
    add_joint(lp, before, result.rate_columns.front(), problem.jump_before);
  }
  if (problem.rate_after) {
    int const after = lp.add_column(0, *problem.rate_after, *problem.rate_after);
    add_joint(lp, result.rate_columns.back(), after, problem.jump_after);
  }
  return result;
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
