// SPDX-License-Identifier: MIT
// The parts of the machine, and the lag that they explain.
//
//   p = K·Q^n                                  power-law melt in the round nozzle hole [MPa]
//   W = C·p
//   C = V/B + Σ A²/k + V_air/(p + p0)          melt, each part, trapped air [mm³/MPa]
//   S = C·K·Qref^n                             run-on at the reference flow
// V melt volume, B its bulk modulus, A the area that the pressure pushes on, k a part's axial
// stiffness. Place::file of every Error is the profile key at fault, such as "[barrel] sections".
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/melt/lag_law.hpp"

namespace meltlag::melt {

inline constexpr double atmosphere_mpa = 0.101325;  // standard atmosphere

// A length of barrel with one bore. screw_core_mm is the diameter of the screw's root; 0: no screw
// here.
struct BarrelSection {
  double length_mm;
  double bore_mm;
  double screw_core_mm;
};

struct Barrel {
  std::vector<BarrelSection> sections;  // from the hopper to the nozzle; the molten part only
  double tip_gap_mm = 0;                // from the screw's tip to the nozzle
  std::optional<double> screw_diameter_mm = {};  // over the flights
  std::optional<double> screw_pitch_mm = {};
  double air_mm3 = 0;                          // trapped, as it would be at atmospheric pressure
  std::optional<double> melt_volume_mm3 = {};  // measured; else computed from the sections
  double tube_melt_mm3 = 0;  // above the sections, in the tube to the hopper (heat_barrier.hpp)
};

struct Nozzle {
  double diameter_mm;
  double hole_length_mm;
  double ooze_mm3_s = 0;  // drips at rest without any run-on
  // Length of hole that costs as much pressure as the entrance does: the end correction of
  // capillary rheometry (Bagley), as a length. 0: left out.
  double entrance_mm = 0;
};

// One thing that holds the screw and gives way: its stiffness, or what a dial gauge read while
// printing at a flow.
struct Part {
  std::string name;
  std::optional<double> n_per_mm = {};
  std::optional<double> deflection_mm = {};
  std::optional<double> at_flow_mm3_s = {};
};

// Shear stress = consistency · (shear rate)^flow_index.
struct Material {
  double density_g_cm3;     // of the melt
  double bulk_modulus_mpa;  // of the melt
  double consistency_pa_sn;
  double flow_index;
  std::optional<double> at_c = {};               // temperature that the consistency holds for
  std::optional<double> activation_kj_mol = {};  // at constant shear rate
  std::optional<double> longest_residence_s = {};
};

// The machine as its parts say.
struct Machine {
  Barrel barrel;
  Nozzle nozzle;
  std::vector<Part> parts;
  Material material;
  double friction_n = 0;  // of the softening zone on the screw; turns round with it
};

// Throw Error for a geometry or a value that cannot be; the message names the key.
void check(Barrel const& barrel);
void check(Nozzle const& nozzle);
void check(Part const& part);
void check(Material const& material);

// Σ π/4·L·(bore² − core²) + π/4·gap·bore² where the screw ends, and what has melted in the tube; or
// what was measured, mm³. The
// flights are left out: they make it a little less.
[[nodiscard]] double melt_volume_mm3(Barrel const& barrel);

// What the pressure at the screw's tip pushes on, mm². `bore_mm2`: the bore where the screw ends,
// the value used; the true effective area lies between `screw_mm2` (the screw's diameter where
// known, else its core) and the bore.
struct ThrustArea {
  double screw_mm2, bore_mm2;
};
[[nodiscard]] ThrustArea thrust_area(Barrel const& barrel);

// K of p = K·Q^n, MPa·(s/mm³)^n: Δp = (2·κ·L/R)·[(3n+1)/n · Q/(π·R³)]^n for a power-law fluid in a
// round hole (e.g. Coulson and Richardson, "Chemical Engineering" vol. 1), L the hole's length and
// its entrance's.
[[nodiscard]] double nozzle_constant(Nozzle const& nozzle, Material const& material);
[[nodiscard]] double nozzle_pressure_mpa(Nozzle const& nozzle,
                                         Material const& material,
                                         double flow_mm3_s);
// Axial stiffness, N/mm. A dial gauge's deflection at a flow: k = p(flow)·A/deflection.
[[nodiscard]] double stiffness_n_per_mm(Part const& part, Machine const& machine);

enum class ShareKind { melt, part, air };

// One cause of the lag.
struct Share {
  ShareKind kind;
  std::string name;           // of the part; empty for melt and air
  double mm3_per_mpa;         // its contribution to C
  double run_on_mm3;          // and to S
  double stiffness_n_per_mm;  // of a part; 0 for melt and air
};

struct PartsLag {
  LagLaw law;
  double melt_volume_mm3;
  ThrustArea area;
  double nozzle_constant;     // K, MPa·(s/mm³)^n
  double compliance_mm3_mpa;  // C
  double pressure_mpa;        // at the reference flow
  double thrust_n;            // on the screw at that pressure: p·A with the bore's area
  double least_run_on_mm3;    // S if the pressure pushed on the screw's own area only
  std::vector<Share> shares;  // melt, parts in their order, air where there is some
};

// The lag law that the parts explain, at a reference flow. Trapped air is isothermal and linearised
// at the pressure of that flow (secant from rest: it stores V_air·p/(p + p0)).
[[nodiscard]] PartsLag lag_from_parts(Machine const& machine, double at_flow_mm3_s);

// Pressure that belongs to a run-on, MPa: p = W/C.
[[nodiscard]] double pressure_at_run_on_mpa(PartsLag const& lag, double run_on_mm3);

// What melt and screw bear. Unset: not known.
struct PressureLimits {
  std::optional<double> max_pressure_mpa, max_thrust_n;
};
// The run-on at the pressure that both allow, W = C·p with p = thrust/A of the bore, mm³; nothing
// where neither is set or nothing gives way.
[[nodiscard]] std::optional<double> greatest_run_on_mm3(PartsLag const& lag,
                                                        PressureLimits const& limits);

// Mean residence time of the melt in the barrel, V/Q, whatever the mixing (Levenspiel, "Chemical
// Reaction Engineering", 3rd ed., ch. 11). Infinite at flow 0.
[[nodiscard]] double mean_residence_s(double melt_volume_mm3, double flow_mm3_s);

}  // namespace meltlag::melt
