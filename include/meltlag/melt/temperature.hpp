// SPDX-License-Identifier: MIT
#pragma once

namespace meltlag::melt {

inline constexpr double gas_constant_j_mol_k = 8.314462618;  // CODATA 2018
inline constexpr double zero_celsius_k = 273.15;

struct TemperatureChange {
  double activation_kj_mol;  // flow activation energy at constant shear rate
  double from_c, to_c;
};

// K(to)/K(from) = exp[(E/R)·(1/T_to − 1/T_from)], the Arrhenius law for melt viscosity (any
// textbook of polymer rheology). Temperatures below −272 °C count as −272 °C.
[[nodiscard]] double viscosity_factor(TemperatureChange const& change);

}  // namespace meltlag::melt
