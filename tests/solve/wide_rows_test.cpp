// SPDX-License-Identifier: MIT
// Wider rows: what a narrow solver finds, a wide one finds too; and rows that need the width.
#include <doctest/doctest.h>

#include "random_programs.hpp"
#include "support/near.hpp"

using namespace meltlag::solve;

namespace {

template <std::size_t Width>
BasicRow<Width> widened(Row const& row) {
  BasicRow<Width> out{row.first, {}};
  std::copy(row.coefficients.begin(), row.coefficients.end(), out.coefficients.begin());
  return out;
}

template <std::size_t Width>
BasicBandProgram<Width> widened(BandProgram const& program) {
  BasicBandProgram<Width> out;
  out.unknowns = program.unknowns;
  for (auto const& t : program.terms) out.terms.push_back({widened<Width>(t.row), t.target});
  for (auto const& r : program.ranges) out.ranges.push_back({widened<Width>(r.row), r.low, r.high});
  return out;
}

template <std::size_t Width>
double objective(BandProgram const& program) {
  BasicBandSolver<Width> solver;
  std::vector<double> x(program.unknowns, 0.0);
  BandInfo const info = solver.solve(widened<Width>(program), {.gap_tolerance = 1e-7}, x);
  CHECK(info.status == BandStatus::solved);
  return info.objective;
}

}  // namespace

TEST_SUITE("solve") {
  TEST_CASE("solvers of all widths agree on narrow problems") {
    for (unsigned seed = 1; seed <= 5; ++seed) {
      auto const program = meltlag_test::random_program(60, seed);
      double const narrow = objective<row_width>(program);
      CHECK_CLOSE(objective<wide_row_width>(program), narrow, 1e-5);
      CHECK_CLOSE(objective<widest_row_width>(program), narrow, 1e-5);
    }
  }

  TEST_CASE("a row may touch as many unknowns as the width says") {
    // |x0 − 1| + |x4 + 2| + … under x0 + … + x4 = 3, nearly: the sum costs what it misses.
    BasicBandProgram<wide_row_width> program;
    program.unknowns = 5;
    double const targets[] = {1, 0.5, -1, 0.25, -2};
    for (std::uint32_t i = 0; i < 5; ++i) program.terms.push_back({{i, {1}}, targets[i]});
    program.ranges.push_back({{0, {1, 1, 1, 1, 1}}, 3, 3.001});
    BasicBandSolver<wide_row_width> solver;
    std::vector<double> x(5, 0.0);
    BandInfo const info = solver.solve(program, {.gap_tolerance = 1e-7}, x);
    CHECK(info.status == BandStatus::solved);
    CHECK_NEAR(info.objective, 3 + 1.25, 1e-4);
  }

  TEST_CASE("curvature holds across the whole band") {
    // ½(x0 + 2 x11 − 3)² + |x0| with a small pull on the others: x11 takes all of it.
    BasicBandProgram<widest_row_width> program;
    program.unknowns = 12;
    program.curvature.assign(12, {});
    program.curvature[0][0] = 1;
    program.curvature[0][11] = 2;
    program.curvature[11][0] = 4;
    program.linear.assign(12, 0.0);
    program.linear[0] = -3;
    program.linear[11] = -6;
    for (std::uint32_t i = 0; i < 11; ++i) program.terms.push_back({{i, {1}}, 0});
    BasicBandSolver<widest_row_width> solver;
    std::vector<double> x(12, 0.0);
    solver.solve(program, {.gap_tolerance = 1e-8}, x);
    CHECK_NEAR(x[0], 0, 1e-4);
    CHECK_NEAR(x[11], 1.5, 1e-4);
  }
}
