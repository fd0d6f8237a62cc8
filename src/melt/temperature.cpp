// SPDX-License-Identifier: MIT
#include "meltlag/melt/temperature.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::melt {

double viscosity_factor(TemperatureChange const& change) {
  double const from_k = std::max(1.0, change.from_c + zero_celsius_k);
  double const to_k = std::max(1.0, change.to_c + zero_celsius_k);
  double const exponent =
      1000 * change.activation_kj_mol / gas_constant_j_mol_k * (1 / to_k - 1 / from_k);
  // A frozen nozzle (M104 S0 with a steep law) stays finite.
  return std::exp(std::clamp(exponent, -200.0, 200.0));
}

}  // namespace meltlag::melt
