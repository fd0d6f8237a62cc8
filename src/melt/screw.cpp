// SPDX-License-Identifier: MIT
#include "meltlag/melt/screw.hpp"

#include <cmath>
#include <numbers>

#include "units.hpp"

namespace meltlag::melt {
namespace {

using std::numbers::pi;

}  // namespace

double drag_flow_mm3_s(MeteringZone const& zone, double turns_per_s) {
  double const d = zone.screw_diameter_mm;
  return 0.5 * pi * pi * d * d * turns_per_s * zone.channel_depth_mm *
         std::sin(zone.flight_angle_rad) * std::cos(zone.flight_angle_rad);
}

double back_flow_mm3_s_mpa(MeteringZone const& zone) {
  double const s = std::sin(zone.flight_angle_rad);
  return pi * zone.screw_diameter_mm * std::pow(zone.channel_depth_mm, 3) * s * s * pa_per_mpa /
         (12 * zone.viscosity_pa_s * zone.length_mm);
}

double dead_end_pressure_mpa(MeteringZone const& zone, double turns_per_s) {
  return drag_flow_mm3_s(zone, turns_per_s) / back_flow_mm3_s_mpa(zone);
}

double die_conductance_mm3_s_mpa(RoundDie const& die) {
  return pi * std::pow(die.diameter_mm, 4) * pa_per_mpa /
         (128 * die.viscosity_pa_s * die.length_mm);
}

OperatingPoint operating_point(MeteringZone const& zone, RoundDie const& die, double turns_per_s) {
  double const die_mm3_s_mpa = die_conductance_mm3_s_mpa(die);
  double const p = drag_flow_mm3_s(zone, turns_per_s) / (back_flow_mm3_s_mpa(zone) + die_mm3_s_mpa);
  return {p, die_mm3_s_mpa * p};
}

double leak_per_s(MeteringZone const& zone, double compliance_mm3_mpa) {
  return back_flow_mm3_s_mpa(zone) / compliance_mm3_mpa;
}

}  // namespace meltlag::melt
