// SPDX-License-Identifier: MIT
// Speed and screw together: how much longer each cut had better take.
//
// Let z be the logarithm of a cut's duration, its path and its rate (E mm per mm) kept. The screw
// then delivers the same on the same path, but the melt has e^z of the time to leave. With a price
// p per second, wanted is
//   Σ |got − wanted| + p·Σ duration
// least over rates and durations at once. Around a trajectory all of it is affine in the run-on
// after each cut and its z, so that every row touches at most five neighbouring unknowns.
#pragma once

#include <memory>
#include <vector>

#include "meltlag/schedule/problem.hpp"

namespace meltlag::schedule {

// What one cut's duration may do.
struct DurationBounds {
  bool free = false;
  double low = 0, high = 0;  // bounds of z, low ≤ 0 ≤ high
  double length_mm = 0, duration_s = 0;
  double acceleration_mm_s2 = 0;  // the head's, which ties its speed to the next cut's
};

struct PaceSettings {
  double price_mm3_per_s = 0;  // of a second
  double gap = 2e-3;           // duality gap ≤ gap · Σ wanted
};

struct PaceStep {
  std::vector<double> stretch;  // z of every cut
  std::vector<double> rates;    // that go with it, within the bounds of the cuts as they are
};

class PaceTangent {
 public:
  PaceTangent();
  ~PaceTangent();
  PaceTangent(PaceTangent&&) noexcept;

  // The tangent problem's optimum around `rates`; `bounds`: one entry per cut.
  void solve(Problem const& problem,
             std::vector<DurationBounds> const& bounds,
             std::vector<double> const& rates,
             PaceSettings const& settings,
             PaceStep& step);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace meltlag::schedule
