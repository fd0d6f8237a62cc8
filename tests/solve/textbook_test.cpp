// SPDX-License-Identifier: MIT
// Programs whose optimum is known from a book or a few lines of hand calculation.
#include <array>
#include <cmath>
#include <limits>

#include "meltlag/solve/band_program.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::solve;

constexpr double unbounded = std::numeric_limits<double>::infinity();

BandSettings tight() {
  BandSettings settings;
  settings.gap_tolerance = 1e-9;
  return settings;
}

TEST_SUITE("solve") {
  TEST_CASE("the point of least absolute deviations is the median, wherever the start lies") {
    BandProgram program;
    program.unknowns = 1;
    for (double d : {50.0, 1.0, 9.0, 2.0, 7.0}) program.terms.push_back({{0, {1, 0, 0}}, d});
    for (double start : {-1000.0, 0.0, 7.0, 1e5}) {
      CAPTURE(start);
      std::vector<double> x{start};
      BandSolver solver;
      BandInfo const info = solver.solve(program, tight(), x);
      CHECK(info.status == BandStatus::solved);
      CHECK_NEAR(x[0], 7, 1e-6);
      CHECK_NEAR(info.objective, 6 + 5 + 0 + 2 + 43, 1e-6);
    }
  }

  TEST_CASE("an even number of equal weights leaves any point between the middle two") {
    BandProgram program;
    program.unknowns = 1;
    for (double d : {1.0, 2.0, 6.0, 10.0}) program.terms.push_back({{0, {1, 0, 0}}, d});
    std::vector<double> x{0};
    BandSolver solver;
    CHECK_NEAR(solver.solve(program, tight(), x).objective, 13, 1e-6);
    CHECK(x[0] >= 2 - 1e-6);
    CHECK(x[0] <= 6 + 1e-6);
  }

  // Optimal by duality: multipliers 1 at the outlier and −1/4 elsewhere balance both columns.
  TEST_CASE("a line fitted by absolute deviations ignores one outlier") {
    BandProgram program;
    program.unknowns = 2;
    for (int t = 0; t < 5; ++t) {
      program.terms.push_back({{0, {1, static_cast<double>(t), 0}}, 1 + 2.0 * t});
    }
    program.terms[2].target += 10;
    std::vector<double> x{0, 0};
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status == BandStatus::solved);
    CHECK_NEAR(x[0], 1, 1e-6);
    CHECK_NEAR(x[1], 2, 1e-6);
    CHECK_NEAR(info.objective, 10, 1e-6);
    CHECK_NEAR(solver.term_multipliers()[2], -1, 1e-4);  // a·x lies below its target
  }

  TEST_CASE("a bound that is in the way holds and its multiplier is the price of it") {
    BandProgram program;
    program.unknowns = 1;
    program.terms.push_back({{0, {1, 0, 0}}, 5});
    program.ranges.push_back({{0, {1, 0, 0}}, -1, 3});
    std::vector<double> x{0};
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status == BandStatus::solved);
    CHECK_NEAR(x[0], 3, 1e-6);
    CHECK_NEAR(info.objective, 2, 1e-6);
    CHECK_NEAR(solver.range_multipliers()[0], 1, 1e-5);
    program.terms[0].target = -4;
    solver.solve(program, tight(), x);
    CHECK_NEAR(x[0], -1, 1e-6);
    CHECK_NEAR(solver.range_multipliers()[0], -1, 1e-5);
  }

  TEST_CASE("infinite bounds on one or both sides bind nothing") {
    BandProgram program;
    program.unknowns = 3;
    for (std::uint32_t i = 0; i < 3; ++i) program.terms.push_back({{i, {1, 0, 0}}, 4.0 * i});
    program.ranges.push_back({{0, {1, 1, 1}}, -unbounded, unbounded});
    program.ranges.push_back({{0, {1, 0, 0}}, -unbounded, 100});
    program.ranges.push_back({{1, {1, 0, 0}}, -100, unbounded});
    std::vector<double> x(3, 1.0);
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status == BandStatus::solved);
    for (std::size_t i = 0; i < 3; ++i) CHECK_NEAR(x[i], 4.0 * static_cast<double>(i), 1e-6);
    for (double y : solver.range_multipliers()) CHECK_NEAR(y, 0, 1e-5);
  }

  // Hillier and Lieberman, Introduction to Operations Research, chapter 3, the glass works example
  // (from memory): most profit 36 at (2, 6), shadow prices 0, 3/2 and 1.
  TEST_CASE("a linear program of two products gives the book's plan and shadow prices") {
    BandProgram program;
    program.unknowns = 2;
    program.linear = {-3, -5};
    program.ranges.push_back({{0, {1, 0, 0}}, 0, 4});
    program.ranges.push_back({{0, {0, 2, 0}}, 0, 12});
    program.ranges.push_back({{0, {3, 2, 0}}, -unbounded, 18});
    std::vector<double> x{0, 0};
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status == BandStatus::solved);
    CHECK_NEAR(x[0], 2, 1e-6);
    CHECK_NEAR(x[1], 6, 1e-6);
    CHECK_NEAR(info.objective, -36, 1e-6);
    CHECK_NEAR(solver.range_multipliers()[0], 0, 1e-5);
    CHECK_NEAR(solver.range_multipliers()[1], 1.5, 1e-5);
    CHECK_NEAR(solver.range_multipliers()[2], 1, 1e-5);
  }

  TEST_CASE("a pentadiagonal quadratic alone is minimised where its gradient vanishes") {
    std::array<double, 4> const at{1, -2, 3, 0.5};
    BandProgram program;
    program.unknowns = 4;
    program.curvature = {{6, -4, 1}, {7, -4, 1}, {7, -4, 0}, {6, 0, 0}};
    std::vector<std::array<double, 4>> const full{
        {6, -4, 1, 0}, {-4, 7, -4, 1}, {1, -4, 7, -4}, {0, 1, -4, 6}};
    for (auto const& row : full) {
      double g = 0;
      for (std::size_t i = 0; i < 4; ++i) g -= row[i] * at[i];
      program.linear.push_back(g);
    }
    std::vector<double> x(4, 0.0);
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status == BandStatus::solved);
    for (std::size_t i = 0; i < 4; ++i) CHECK_NEAR(x[i], at[i], 1e-9);
    double half = 0;  // the minimum is ½ g·x
    for (std::size_t i = 0; i < 4; ++i) half += program.linear[i] * at[i] / 2;
    CHECK_NEAR(info.objective, half, 1e-9);
  }

  // Minimise |x| + ½(x − d)²: x = sign(d)·max(|d| − 1, 0).
  TEST_CASE("an absolute value beside a parabola shrinks towards zero by one") {
    BandProgram program;
    std::array<double, 5> const d{3, 0.5, -0.25, -4, 1.5};
    program.unknowns = d.size();
    for (std::uint32_t i = 0; i < d.size(); ++i) {
      program.terms.push_back({{i, {1, 0, 0}}, 0});
      program.curvature.push_back({1, 0, 0});
      program.linear.push_back(-d[i]);
    }
    std::vector<double> x(d.size(), 0.0);
    BandSolver solver;
    CHECK(solver.solve(program, tight(), x).status == BandStatus::solved);
    for (std::size_t i = 0; i < d.size(); ++i) {
      CHECK_NEAR(x[i], std::copysign(std::max(std::abs(d[i]) - 1, 0.0), d[i]), 1e-4);
    }
  }

  TEST_CASE("a parabola pressed against a bound stops at the bound") {
    BandProgram program;  // ½(x0 − 3)² + ½(x1 − x0)², x0 ≤ 1
    program.unknowns = 2;
    program.curvature = {{2, -1, 0}, {1, 0, 0}};
    program.linear = {-3, 0};
    program.ranges.push_back({{0, {1, 0, 0}}, -unbounded, 1});
    std::vector<double> x{-5, 8};
    BandSolver solver;
    CHECK(solver.solve(program, tight(), x).status == BandStatus::solved);
    CHECK_NEAR(x[0], 1, 1e-6);
    CHECK_NEAR(x[1], 1, 1e-6);
    CHECK_NEAR(solver.range_multipliers()[0], 2, 1e-5);
  }

  TEST_CASE("ranges that exclude each other are never reported as solved") {
    BandProgram program;
    program.unknowns = 2;
    program.terms.push_back({{0, {1, 0, 0}}, 0});
    program.terms.push_back({{1, {1, 0, 0}}, 0});
    program.ranges.push_back({{0, {1, 1, 0}}, -1, 1});
    program.ranges.push_back({{0, {1, 0, 0}}, 2, 3});
    program.ranges.push_back({{1, {1, 0, 0}}, 0, 5});
    std::vector<double> x{0, 0};
    BandSolver solver;
    BandInfo const info = solver.solve(program, tight(), x);
    CHECK(info.status != BandStatus::solved);
    CHECK(info.residual > 1e-3);
  }

  TEST_CASE("the step limit is kept and reported") {
    BandProgram program;
    program.unknowns = 1;
    for (double d : {1.0, 2.0, 7.0}) program.terms.push_back({{0, {1, 0, 0}}, d});
    BandSettings settings = tight();
    settings.most_steps = 2;
    std::vector<double> x{500};
    BandSolver solver;
    BandInfo const info = solver.solve(program, settings, x);
    CHECK(info.status == BandStatus::step_limit);
    CHECK(info.steps == 2);
  }
}

}  // namespace
