// SPDX-License-Identifier: MIT
// Density and bulk modulus of molten plastics from published pressure–volume–temperature data.
//
//   v(p, T) = v0(T)·[1 − C·ln(1 + p/B(T))],  C = 0.0894
//   v0 = A0 + A1·t + A2·t²,  B = B0·exp(−B1·t),  t in °C
// Form: Wohlfarth in the CRC Handbook of Chemistry and Physics. Coefficients: Danner and High,
// "Handbook of Polymer Solution Thermodynamics", table 3B-1.
#pragma once

#include <span>
#include <string_view>

namespace meltlag::melt {

inline constexpr double tait_c = 0.0894;

struct TaitMelt {
  std::string_view name;
  double a0_cm3_g, a1_cm3_g_c, a2_cm3_g_c2;
  double b0_mpa, b1_per_c;
  double from_c, to_c;  // where the coefficients were fitted
};

// HDPE, LDPE, PP, PS, PC, PMMA, PA, POM. No published set is at hand for PLA, PETG and ABS.
[[nodiscard]] std::span<TaitMelt const> tait_melts();

struct MeltState {
  double pressure_mpa;
  double temperature_c;
};
[[nodiscard]] double tait_specific_volume_cm3_g(TaitMelt const& melt, MeltState const& state);
[[nodiscard]] double tait_density_g_cm3(TaitMelt const& melt, MeltState const& state);
// K = −v/(∂v/∂p) = (B + p)·[1 − C·ln(1 + p/B)]/C
[[nodiscard]] double tait_bulk_modulus_mpa(TaitMelt const& melt, MeltState const& state);

}  // namespace meltlag::melt
