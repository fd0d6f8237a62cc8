// SPDX-License-Identifier: MIT
#include "meltlag/melt/lag_law.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/melt/temperature.hpp"

namespace meltlag::melt {

double run_on_at_flow(LagLaw const& law, double flow_mm3_s) {
  if (!(flow_mm3_s > 0)) {
    return 0;
  }
  double const share = flow_mm3_s / law.at_flow_mm3_s;
  return law.run_on_mm3 * (law.flow_index == 1.0 ? share : std::pow(share, law.flow_index));
}

double flow_at_run_on(LagLaw const& law, double run_on_mm3) {
  if (!(run_on_mm3 > 0)) {
    return 0;
  }
  double const share = run_on_mm3 / law.run_on_mm3;
  return law.at_flow_mm3_s * (law.flow_index == 1.0 ? share : std::pow(share, 1 / law.flow_index));
}

double lag_s(LagLaw const& law, double flow_mm3_s) {
  double const at_reference = law.flow_index * law.run_on_mm3 / law.at_flow_mm3_s;
  return at_reference * std::pow(std::max(flow_mm3_s, 0.0) / law.at_flow_mm3_s, law.flow_index - 1);
}

LagLaw at_temperature(LagLaw const& law, double nozzle_c) {
  if (std::isnan(nozzle_c) || !law.at_c || !law.activation_kj_mol) {
    return law;
  }
  LagLaw warm = law;
  warm.run_on_mm3 *= viscosity_factor(
      {.activation_kj_mol = *law.activation_kj_mol, .from_c = *law.at_c, .to_c = nozzle_c});
  warm.at_c = nozzle_c;
  return warm;
}

}  // namespace meltlag::melt
