// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <ctime>

#include "meltlag/solve/band_program.hpp"
#include "solve/random_programs.hpp"
#include "support/near.hpp"

namespace {

using namespace meltlag::solve;

// Of this thread alone, so that what else runs on the machine does not count.
double cpu_seconds() {
  std::timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// One program, solved again and again.
class Repeated {
 public:
  explicit Repeated(std::size_t unknowns)
      : program_(meltlag_test::random_program(unknowns, 7)), unknowns_(unknowns) {
    settings_.scale = static_cast<double>(unknowns);
  }
  double seconds_per_step() {
    std::vector<double> x(unknowns_, 0.0);
    double const before = cpu_seconds();
    BandInfo const info = solver_.solve(program_, settings_, x);
    double const spent = cpu_seconds() - before;
    CHECK(info.status == BandStatus::solved);
    steps_ = info.steps;
    return spent / std::max(1, info.steps);
  }
  [[nodiscard]] int steps() const { return steps_; }

 private:
  BandProgram program_;
  std::size_t unknowns_;
  BandSettings settings_;
  BandSolver solver_;
  int steps_ = 0;
};

double median(std::array<double, 7> values) {
  std::nth_element(values.begin(), values.begin() + 3, values.end());
  return values[3];
}

TEST_SUITE("solve") {
  TEST_CASE("steps do not grow with the number of rows and each step's time grows linearly") {
    Repeated small(1000), large(20000);
    // By turns, so that a busy spell falls on both.
    std::array<double, 7> small_s{}, large_s{};
    for (std::size_t i = 0; i < small_s.size(); ++i) {
      constexpr int as_long = 20;  // the small one is too quick to be timed once
      for (int k = 0; k < as_long; ++k) small_s[i] += small.seconds_per_step() / as_long;
      large_s[i] = large.seconds_per_step();
    }
    double const ratio = median(large_s) / median(small_s);
    MESSAGE("steps ", small.steps(), " and ", large.steps(), ", time per step x ", ratio);
    CHECK(small.steps() <= 40);
    CHECK(large.steps() <= 40);
    // 20 times the rows, and cache is left behind; quadratic growth would give 400.
    CHECK(ratio < 150);
  }
}

}  // namespace
