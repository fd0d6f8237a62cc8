// SPDX-License-Identifier: MIT
// x^m for x ≥ 0, with the exponent known to the compiler where it is whole.
#pragma once

#include <cmath>

#include "meltlag/melt/nozzle_flow.hpp"

namespace meltlag::melt {

struct Square {
  double operator()(double x) const { return x * x; }
};
struct Cube {
  double operator()(double x) const { return x * x * x; }
};
struct AnyPower {
  double exponent;
  double operator()(double x) const { return std::pow(x, exponent); }
};

// Q(W) of a NozzleFlow with n ≠ 1, inlined.
template <class Power>
struct FlowLaw {
  Power power;
  double reference_flow_mm3_s, per_run_on, exponent;

  FlowLaw(NozzleFlow const& flow, Power p)
      : power(p),
        reference_flow_mm3_s(flow.reference_flow_mm3_s()),
        per_run_on(flow.per_run_on()),
        exponent(flow.exponent()) {}

  double operator()(double w) const {
    return w > 0 ? reference_flow_mm3_s * power(w * per_run_on) : 0;
  }
  // dQ/dW. For n > 1 it is infinite at W = 0: taken a little above.
  double slope(double w) const {
    double const at = w * per_run_on > 1e-9 ? w : 1e-9 / per_run_on;
    return exponent * (*this)(at) / at;
  }
};

// Calls `use` with the FlowLaw that fits the exponent. REQUIRES: flow.power() != one.
template <class Use>
auto with_flow_law(NozzleFlow const& flow, Use&& use) {
  switch (flow.power()) {
    case NozzleFlow::Power::two:
      return use(FlowLaw<Square>(flow, {}));
    case NozzleFlow::Power::three:
      return use(FlowLaw<Cube>(flow, {}));
    default:
      return use(FlowLaw<AnyPower>(flow, {flow.exponent()}));
  }
}

}  // namespace meltlag::melt
