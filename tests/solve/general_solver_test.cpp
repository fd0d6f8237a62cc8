// SPDX-License-Identifier: MIT
// The same programs given to a general simplex solver, and the optimum's sensitivities by finite
// differences.
#include <cmath>

#include "meltlag/solve/band_program.hpp"
#include "solve/clp_lp.hpp"
#include "solve/random_programs.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::solve;
using namespace meltlag_test;

Lp split_into_positive_and_negative(BandProgram const& program) {
  Lp lp;
  for (std::size_t i = 0; i < program.unknowns; ++i) {
    lp.add_column(
        i < program.linear.size() ? program.linear[i] : 0, -meltlag_test::infinity, infinity);
  }
  auto const entries = [&](Row const& row) {
    std::vector<std::pair<int, double>> list;
    for (std::size_t k = 0; k < row_width && row.first + k < program.unknowns; ++k) {
      list.emplace_back(static_cast<int>(row.first + k), row.coefficients[k]);
    }
    return list;
  };
  for (Term const& term : program.terms) {
    auto list = entries(term.row);
    list.emplace_back(lp.add_column(1, 0, infinity), -1);
    list.emplace_back(lp.add_column(1, 0, infinity), 1);
    lp.add_row(term.target, term.target, list);
  }
  for (Range const& range : program.ranges) {
    lp.add_row(std::isfinite(range.low) ? range.low : -infinity,
               std::isfinite(range.high) ? range.high : infinity,
               entries(range.row));
  }
  return lp;
}

BandSettings tight(double scale) {
  BandSettings settings;
  settings.gap_tolerance = 1e-9;
  settings.start_residual_left = 1e-9;
  settings.scale = scale;
  settings.most_steps = 200;
  return settings;
}

double optimum(BandProgram const& program) {
  std::vector<double> x(program.unknowns, 0.0);
  BandSolver solver;
  return solver.solve(program, tight(1), x).objective;
}

TEST_SUITE("solve") {
  TEST_CASE("random band programs reach the optimum that a simplex solver finds") {
    for (unsigned seed = 1; seed <= 40; ++seed) {
      std::size_t const unknowns = 1 + (seed * 7) % 120;
      CAPTURE(seed);
      CAPTURE(unknowns);
      BandProgram program = random_program(unknowns, seed);
      if (seed % 3 == 0) {  // a box keeps the linear part bounded
        for (std::size_t i = 0; i < unknowns; ++i)
          program.ranges.push_back({{static_cast<std::uint32_t>(i), {1, 0, 0}}, -9, 9});
        for (std::size_t i = 0; i < unknowns; ++i)
          program.linear.push_back(i % 2 == 0 ? 0.3 : -0.6);
      }
      Lp::Solution const truth = split_into_positive_and_negative(program).solve();
      REQUIRE(truth.optimal);
      std::vector<double> x(unknowns, 0.0);
      BandSettings settings;
      settings.scale = 1 + std::abs(truth.objective);
      BandSolver solver;
      BandInfo const info = solver.solve(program, settings, x);
      CHECK(info.status == BandStatus::solved);
      CHECK_NEAR(info.objective, truth.objective, 1e-3 * (1e-3 + std::abs(truth.objective)));
      CHECK(worst_violation(program, x) <= 1e-7 * settings.scale * 1.01);
    }
  }

  TEST_CASE("with a tight gap the optimum agrees with the simplex solver to six digits") {
    for (unsigned seed = 100; seed < 110; ++seed) {
      CAPTURE(seed);
      BandProgram const program = random_program(60, seed);
      Lp::Solution const truth = split_into_positive_and_negative(program).solve();
      REQUIRE(truth.optimal);
      std::vector<double> x(60, 0.0);
      BandSolver solver;
      BandInfo const info = solver.solve(program, tight(1), x);
      CHECK(info.status == BandStatus::solved);
      CHECK_CLOSE(info.objective, truth.objective, 1e-6);
      CHECK(worst_violation(program, x) <= 1e-6);
    }
  }

  TEST_CASE("the programs of before leave no trace in a solver that is used again") {
    BandSolver used;
    std::vector<double> x(200, 0.0);
    used.solve(random_program(200, 5), BandSettings{}, x);
    BandProgram const program = random_program(30, 6);
    std::vector<double> again(30, 0.0), fresh(30, 0.0);
    used.solve(program, BandSettings{}, again);
    BandSolver{}.solve(program, BandSettings{}, fresh);
    CHECK(again == fresh);
  }

  TEST_CASE("multipliers are the sensitivities of the optimum to targets and bounds") {
    constexpr double h = 1e-4;
    BandProgram const program = random_program(12, 42);
    std::vector<double> x(12, 0.0);
    BandSolver solver;
    REQUIRE(solver.solve(program, tight(1), x).status == BandStatus::solved);
    int active = 0;
    for (std::size_t k = 0; k < program.terms.size(); ++k) {
      CAPTURE(k);
      BandProgram up = program, down = program;
      up.terms[k].target += h;
      down.terms[k].target -= h;
      double const slope = (optimum(up) - optimum(down)) / (2 * h);
      CHECK_NEAR(-solver.term_multipliers()[k], slope, 1e-3);
    }
    for (std::size_t j = 0; j < program.ranges.size(); ++j) {
      CAPTURE(j);
      BandProgram up = program, down = program;
      for (auto* bound : {&up.ranges[j].low, &up.ranges[j].high}) *bound += h;
      for (auto* bound : {&down.ranges[j].low, &down.ranges[j].high}) *bound -= h;
      double const slope = (optimum(up) - optimum(down)) / (2 * h);
      CHECK_NEAR(-solver.range_multipliers()[j], slope, 1e-3);
      active += std::abs(slope) > 0.01 ? 1 : 0;
    }
    CHECK(active > 0);
  }
}

}  // namespace
