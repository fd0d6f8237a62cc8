// SPDX-License-Identifier: MIT
// Single steps for dW/dt = f(t, W) = u0 + g·t − Q(W) − leak·W, each with an error estimate.
#pragma once

#include <cmath>

#include "filled.hpp"

namespace meltlag::melt {

template <class Flow>
struct Equation {
  Flow flow;
  Input input;
  double leak_per_s;

  [[nodiscard]] double rate(double t, double w) const {
    return input.at(t) - flow(w) - (w > 0 ? leak_per_s * w : 0);
  }
};

struct Step {
  double w;         // W after the step
  double held;      // ∫ W dt
  double error;     // estimate, mm³
  double end_rate;  // f at the end
};

// Dormand and Prince, "A family of embedded Runge–Kutta formulae", J. Comput. Appl. Math. 6 (1980):
// order 5 with an embedded order 4; for steps up to about the local lag.
template <class Flow>
Step dormand_prince_step(Equation<Flow> const& eq, double t, double h, double w, double k1) {
  double const w2 = w + h * (k1 / 5);
  double const k2 = eq.rate(t + h / 5, w2);
  double const w3 = w + h * (3.0 / 40 * k1 + 9.0 / 40 * k2);
  double const k3 = eq.rate(t + 0.3 * h, w3);
  double const w4 = w + h * (44.0 / 45 * k1 - 56.0 / 15 * k2 + 32.0 / 9 * k3);
  double const k4 = eq.rate(t + 0.8 * h, w4);
  double const w5 =
      w + h * (19372.0 / 6561 * k1 - 25360.0 / 2187 * k2 + 64448.0 / 6561 * k3 - 212.0 / 729 * k4);
  double const k5 = eq.rate(t + 8.0 / 9 * h, w5);
  double const w6 = w + h * (9017.0 / 3168 * k1 - 355.0 / 33 * k2 + 46732.0 / 5247 * k3 +
                             49.0 / 176 * k4 - 5103.0 / 18656 * k5);
  double const k6 = eq.rate(t + h, w6);
  double const end = w + h * (35.0 / 384 * k1 + 500.0 / 1113 * k3 + 125.0 / 192 * k4 -
                              2187.0 / 6784 * k5 + 11.0 / 84 * k6);
  double const k7 = eq.rate(t + h, end);
  double const error = h * (71.0 / 57600 * k1 - 71.0 / 16695 * k3 + 71.0 / 1920 * k4 -
                            17253.0 / 339200 * k5 + 22.0 / 525 * k6 - k7 / 40);
  double const held = h * (35.0 / 384 * w + 500.0 / 1113 * w3 + 125.0 / 192 * w4 -
                           2187.0 / 6784 * w5 + 11.0 / 84 * w6);
  return {end, held, std::abs(error), k7};
}

// φ_k(z) = Σ z^j/(j+k)!, the averages of e^z that exponential integrators are made of.
struct Phi {
  double p1, p2, p3, p4, p5;
};
[[nodiscard]] Phi phi(double z);

// Exponential Rosenbrock method of order 4 with an embedded order 3 ("exprb43"; Hochbruck and
// Ostermann, "Exponential integrators", Acta Numerica 19 (2010)): for lags much shorter than the
// step. The slope −J is the exact one at (t, w); u's slope g enters through φ2.
template <class Flow>
Step exponential_step(Equation<Flow> const& eq, double t, double h, double w, double k1) {
  double const j = -eq.flow.slope(w) - eq.leak_per_s;
  double const g = eq.input.slope_mm3_s2;
  // What is left of f once its linear part at (t, w) is taken away.
  auto const rest = [&](double s, double value) {
    return eq.rate(t + s, value) - k1 - j * (value - w) - g * s;
  };
  Phi const half = phi(0.5 * h * j), full = phi(h * j);
  double const h2 = h * h;
  double const w2 = w + 0.5 * h * half.p1 * k1 + 0.25 * h2 * half.p2 * g;
  double const d2 = rest(0.5 * h, w2);
  double const linear = w + h * full.p1 * k1 + h2 * full.p2 * g;
  double const w3 = linear + h * full.p1 * d2;
  double const d3 = rest(h, w3);
  double const end =
      linear + h * ((16 * full.p3 - 48 * full.p4) * d2 + (12 * full.p4 - 2 * full.p3) * d3);
  double const held =
      h * w + h2 * (full.p2 * k1 + h * full.p3 * g + (16 * full.p4 - 48 * full.p5) * d2 +
                    (12 * full.p5 - 2 * full.p4) * d3);
  double const error = h * full.p4 * (12 * d3 - 48 * d2);
  return {end, held, std::abs(error), eq.rate(t + h, end)};
}

}  // namespace meltlag::melt
