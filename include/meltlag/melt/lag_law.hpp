// SPDX-License-Identifier: MIT
// The lag law: how much runs on after the screw stops.
//
//   dW/dt = u − Q(W) − leak·W        W run-on [mm³], u screw volume per second, Q nozzle flow
//   [mm³/s] W(Q)  = S·(Q/Qref)^n             S run_on_mm3 at Qref = at_flow_mm3_s, n flow_index
//   Q(W)  = Qref·(W/S)^(1/n), 0 for W ≤ 0
//   τ(Q)  = dW/dQ = n·(S/Qref)·(Q/Qref)^(n−1)
// Temperature: S scales as K(T) = K(at_c)·exp[(E/R)(1/T − 1/T_at)], used only when at_c and E are
// known.
#pragma once

#include <optional>

namespace meltlag::melt {

struct LagLaw {
  double run_on_mm3;                        // S > 0
  double at_flow_mm3_s;                     // Qref > 0
  double flow_index;                        // n > 0
  std::optional<double> at_c;               // temperature that run_on_mm3 holds for
  std::optional<double> activation_kj_mol;  // at constant shear rate
};

// Flows and run-ons ≤ 0 give 0; lag_s at flow 0 is infinite for n < 1 and 0 for n > 1.
[[nodiscard]] double run_on_at_flow(LagLaw const& law, double flow_mm3_s);
[[nodiscard]] double flow_at_run_on(LagLaw const& law, double run_on_mm3);
[[nodiscard]] double lag_s(LagLaw const& law, double flow_mm3_s);
// The law at another set temperature (run_on_mm3 scaled, at_c = nozzle_c); unchanged when nozzle_c
// is NaN or the law does not say.
[[nodiscard]] LagLaw at_temperature(LagLaw const& law, double nozzle_c);

}  // namespace meltlag::melt
