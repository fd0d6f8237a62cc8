// SPDX-License-Identifier: MIT
// n = 1: dW/dt = u0 + g·t − k·W, k = Qref/S + leak, has the closed form
//   W(t) = W0·e^{−x} + t·(u0·p1 + g·t·p2),  x = k·t,  p1 = (1 − e^{−x})/x,  p2 = (1 − p1)/x.
#include <cmath>

#include "filled.hpp"
#include "root.hpp"

namespace meltlag::melt {
namespace {

struct Decay {
  double e, p1, p2;
};

Decay decay(double x) {
  if (x < 0.25) {
    // Series of p2 (next term below 1e-16), then upward: nothing cancels.
    double p2 = 1.0 / 39916800 - x / 479001600;
    p2 = 1.0 / 3628800 - x * p2;
    p2 = 1.0 / 362880 - x * p2;
    p2 = 1.0 / 40320 - x * p2;
    p2 = 1.0 / 5040 - x * p2;
    p2 = 1.0 / 720 - x * p2;
    p2 = 1.0 / 120 - x * p2;
    p2 = 1.0 / 24 - x * p2;
    p2 = 1.0 / 6 - x * p2;
    p2 = 1.0 / 2 - x * p2;
    double const p1 = 1 - x * p2;
    return {1 - x * p1, p1, p2};
  }
  double const e = std::exp(-x);
  double const p1 = (1 - e) / x;
  return {e, p1, (1 - p1) / x};
}

double run_on_after(double k, Input const& u, double w0, double t) {
  Decay const d = decay(k * t);
  return w0 * d.e + t * (u.start_mm3_s * d.p1 + u.slope_mm3_s2 * t * d.p2);
}

}  // namespace

Filled advance_linear(NozzleFlow const& flow,
                      double leak_per_s,
                      Input const& input,
                      double run_on_mm3) {
  double const out_rate = flow.reference_flow_mm3_s() * flow.per_run_on();
  double const k = out_rate + leak_per_s;
  double t = input.duration_s;
  double w = run_on_after(k, input, run_on_mm3, t);
  if (w <= 0 && input.volume(t) < 0) {
    auto const at = [&](double s) {
      double const value = run_on_after(k, input, run_on_mm3, s);
      return Falling{value, input.at(s) - k * value};
    };
    t = falling_root(at, t, 1e-15 * run_on_mm3);
    w = 0;
  }
  double const lost = run_on_mm3 + input.volume(t) - w;
  return {t, w, lost * leak_per_s / k};
}

}  // namespace meltlag::melt
