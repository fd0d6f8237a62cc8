// SPDX-License-Identifier: MIT
// The metering zone of a screw: what it drags forward and what the pressure pushes back.
//
// Newtonian melt in a shallow rectangular channel (e.g. Groover, "Fundamentals of Modern
// Manufacturing", ch. 13; Tadmor and Gogos, "Principles of Polymer Processing"):
//   Q = ½·π²·D²·N·d·sin φ·cos φ − π·D·d³·sin²φ·p/(12·η·L)
#pragma once

namespace meltlag::melt {

struct MeteringZone {
  double screw_diameter_mm;  // D
  double channel_depth_mm;   // d
  double flight_angle_rad;   // φ; tan φ = pitch/(π·D)
  double length_mm;          // L
  double viscosity_pa_s;     // η
};

[[nodiscard]] double drag_flow_mm3_s(MeteringZone const& zone, double turns_per_s);
// Back flow per pressure, mm³/(s·MPa).
[[nodiscard]] double back_flow_mm3_s_mpa(MeteringZone const& zone);
// Pressure at which nothing comes out: 6·π·D·N·L·η·cot φ/d².
[[nodiscard]] double dead_end_pressure_mpa(MeteringZone const& zone, double turns_per_s);

// A round die, Newtonian: Q = π·D⁴/(128·η·L)·p, mm³/(s·MPa).
struct RoundDie {
  double diameter_mm, length_mm, viscosity_pa_s;
};
[[nodiscard]] double die_conductance_mm3_s_mpa(RoundDie const& die);

// Where screw and die agree: p = Q_drag/(k_back + k_die).
struct OperatingPoint {
  double pressure_mpa, flow_mm3_s;
};
[[nodiscard]] OperatingPoint operating_point(MeteringZone const& zone,
                                             RoundDie const& die,
                                             double turns_per_s);

// A screw that delivers against pressure loses k_back·p; with p = W/C that is a leak ∝ W, per
// second.
[[nodiscard]] double leak_per_s(MeteringZone const& zone, double compliance_mm3_mpa);

}  // namespace meltlag::melt
