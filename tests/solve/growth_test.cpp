// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>

#include "meltlag/solve/band_program.hpp"
#include "solve/random_programs.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::solve;

struct Run {
  int steps;
  double seconds_per_step;
};

Run run(std::size_t unknowns) {
  BandProgram const program = meltlag_test::random_program(unknowns, 7);
  BandSettings settings;
  settings.scale = static_cast<double>(unknowns);
  std::vector<double> seconds;
  int steps = 0;
  BandSolver solver;
  for (int repeat = 0; repeat < 5; ++repeat) {
    std::vector<double> x(unknowns, 0.0);
    auto const before = std::chrono::steady_clock::now();
    BandInfo const info = solver.solve(program, settings, x);
    std::chrono::duration<double> const spent = std::chrono::steady_clock::now() - before;
    CHECK(info.status == BandStatus::solved);
    steps = info.steps;
    seconds.push_back(spent.count() / std::max(1, info.steps));
  }
  std::nth_element(seconds.begin(), seconds.begin() + 2, seconds.end());
  return {steps, seconds[2]};
}

TEST_SUITE("solve") {
  TEST_CASE("steps do not grow with the number of rows and each step's time grows linearly") {
    Run const small = run(1000), large = run(20000);
    MESSAGE("steps ",
            small.steps,
            " and ",
            large.steps,
            ", time per step x ",
            large.seconds_per_step / small.seconds_per_step);
    CHECK(small.steps <= 40);
    CHECK(large.steps <= 40);
    // 20 times the rows, and cache is left behind; quadratic growth would give 400.
    CHECK(large.seconds_per_step < 150 * small.seconds_per_step);
  }
}

}  // namespace
