// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstdint>

#include "meltlag/melt/lag_law.hpp"

namespace meltlag::melt {

// The nozzle law made ready for inner loops: Q(W) = Qref·(W/S)^m, m = 1/n, 0 for W ≤ 0.
class NozzleFlow {
 public:
  // Whole exponents need no pow().
  enum class Power : std::uint8_t { one, two, three, any };

  explicit NozzleFlow(LagLaw const& law);

  [[nodiscard]] double operator()(double run_on_mm3) const;  // mm³/s
  // dQ/dW at W > 0, in 1/s: one over the local lag.
  [[nodiscard]] double slope(double run_on_mm3) const {
    return exponent_ * (*this)(run_on_mm3) / run_on_mm3;
  }

  [[nodiscard]] double exponent() const { return exponent_; }
  [[nodiscard]] double reference_flow_mm3_s() const { return reference_flow_mm3_s_; }
  [[nodiscard]] double per_run_on() const { return per_run_on_; }  // 1/S, 1/mm³
  [[nodiscard]] Power power() const { return power_; }

 private:
  double exponent_;
  double reference_flow_mm3_s_;
  double per_run_on_;
  Power power_;
};

}  // namespace meltlag::melt
