// SPDX-License-Identifier: MIT
#include "meltlag/melt/tait.hpp"

#include <array>
#include <cmath>

namespace meltlag::melt {
namespace {

constexpr double k0 = 273.15;

constexpr std::array<TaitMelt, 8> melts{{
    {"HDPE", 1.1567, 6.2888e-4, 1.1268e-6, 178.67, 4.7254e-3, 415 - k0, 472 - k0},
    {"LDPE", 1.1004, 1.4557e-3, -1.5749e-6, 175.98, 4.6677e-3, 398 - k0, 471 - k0},
    {"PP", 1.2033, 4.8182e-4, 7.7589e-7, 142.36, 4.0184e-3, 447 - k0, 571 - k0},
    {"PS", 0.93805, 3.3086e-4, 6.6910e-7, 250.01, 4.1815e-3, 389 - k0, 469 - k0},
    {"PC", 0.79165, 4.4201e-4, 2.8583e-7, 312.68, 3.9728e-3, 430 - k0, 610 - k0},
    {"PMMA", 0.82396, 3.0490e-4, 7.0201e-7, 298.03, 4.3789e-3, 387 - k0, 432 - k0},
    {"PA", 0.78153, 3.6134e-4, 2.7519e-7, 340.19, 3.8021e-3, 455 - k0, 588 - k0},
    {"POM", 0.83198, 2.7550e-4, 2.2000e-6, 310.30, 4.4652e-3, 462 - k0, 492 - k0},
}};

double b_mpa(TaitMelt const& melt, double t_c) {
  return melt.b0_mpa * std::exp(-melt.b1_per_c * t_c);
}

// v/v0
double shrinkage(TaitMelt const& melt, MeltState const& state) {
  return 1 - tait_c * std::log1p(state.pressure_mpa / b_mpa(melt, state.temperature_c));
}

}  // namespace

std::span<TaitMelt const> tait_melts() { return melts; }

double tait_specific_volume_cm3_g(TaitMelt const& melt, MeltState const& state) {
  double const t = state.temperature_c;
  double const v0 = melt.a0_cm3_g + t * (melt.a1_cm3_g_c + t * melt.a2_cm3_g_c2);
  return v0 * shrinkage(melt, state);
}

double tait_density_g_cm3(TaitMelt const& melt, MeltState const& state) {
  return 1 / tait_specific_volume_cm3_g(melt, state);
}

double tait_bulk_modulus_mpa(TaitMelt const& melt, MeltState const& state) {
  return (b_mpa(melt, state.temperature_c) + state.pressure_mpa) * shrinkage(melt, state) / tait_c;
}

}  // namespace meltlag::melt
