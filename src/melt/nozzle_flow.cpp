// SPDX-License-Identifier: MIT
#include "meltlag/melt/nozzle_flow.hpp"

#include <cassert>
#include <cmath>

#include "powers.hpp"

namespace meltlag::melt {
namespace {

NozzleFlow::Power power_of(double exponent) {
  // 1/(1/3) is 3 to rounding only.
  auto const is = [exponent](double whole) { return std::abs(exponent - whole) < 1e-12 * whole; };
  return is(1)   ? NozzleFlow::Power::one
         : is(2) ? NozzleFlow::Power::two
         : is(3) ? NozzleFlow::Power::three
                 : NozzleFlow::Power::any;
}

}  // namespace

NozzleFlow::NozzleFlow(LagLaw const& law)
    : exponent_(1 / law.flow_index),
      reference_flow_mm3_s_(law.at_flow_mm3_s),
      per_run_on_(1 / law.run_on_mm3),
      power_(power_of(exponent_)) {
  assert(law.run_on_mm3 > 0 && law.at_flow_mm3_s > 0 && law.flow_index > 0);
}

double NozzleFlow::operator()(double run_on_mm3) const {
  if (power_ == Power::one) {
    return run_on_mm3 > 0 ? reference_flow_mm3_s_ * (run_on_mm3 * per_run_on_) : 0;
  }
  return with_flow_law(*this, [run_on_mm3](auto const& q) { return q(run_on_mm3); });
}

}  // namespace meltlag::melt
