// SPDX-License-Identifier: MIT
// A nozzle that holds run-on: dW/dt = u(t) − Q(W) − leak·W with u linear in time, until the time is
// up or W has fallen to 0.
#pragma once

#include "meltlag/melt/nozzle_flow.hpp"

namespace meltlag::melt {

// u(t) = start + slope·t
struct Input {
  double start_mm3_s, slope_mm3_s2;
  double duration_s;

  [[nodiscard]] double at(double t_s) const { return start_mm3_s + slope_mm3_s2 * t_s; }
  [[nodiscard]] double volume(double t_s) const {
    return t_s * (start_mm3_s + 0.5 * slope_mm3_s2 * t_s);
  }
};

struct Filled {
  double used_s;      // up to the duration; less when the nozzle ran empty
  double run_on_mm3;  // at used_s; 0 when it ran empty
  double leaked_mm3;
};

// n = 1: closed form. REQUIRES: run_on ≥ 0, and > 0 unless the input is positive.
[[nodiscard]] Filled advance_linear(NozzleFlow const& flow,
                                    double leak_per_s,
                                    Input const& input,
                                    double run_on_mm3);
// n ≠ 1: closed form for u = 0 without leak, else integrated so that no step is wrong by more than
// step_error of the volumes involved.
[[nodiscard]] Filled advance_power(NozzleFlow const& flow,
                                   double leak_per_s,
                                   Input const& input,
                                   double run_on_mm3,
                                   double step_error);

}  // namespace meltlag::melt
