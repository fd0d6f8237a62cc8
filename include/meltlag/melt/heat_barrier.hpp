// SPDX-License-Identifier: MIT
// The tube between the cold hopper and the hot end: how much heat leaks through it, and where in it
// granules turn to melt.
//
// Tube wall, screw core and the plastic between them lie side by side and have one temperature T at
// each place x (what is lost to the air round the tube is left out):
//   d/dx(G·dT/dx) = m·dT/dx     G = Σ k·A of wall, core and plastic [W·mm/K], m = ρ·c·Q [W/K]
// With the thermal resistance ξ(x) = ∫dx/G [K/W] from the cold end, Ξ the whole, this is
//   T = T_cold + (T_hot − T_cold)·(e^(mξ) − 1)/(e^(mΞ) − 1)
// exactly, whatever the steps of the tube; at rest (m = 0) it is the composite wall,
// T = T_cold + (T_hot − T_cold)·ξ/Ξ. The heat of melting is not counted: granules melt a little
// nearer to the hot end than computed.
// (Conduction in series and in parallel, advection–diffusion: any textbook of heat transfer, e.g.
// Incropera and DeWitt, "Fundamentals of Heat and Mass Transfer", ch. 3; Patankar, "Numerical Heat
// Transfer and Fluid Flow", 5.2.)
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/melt/uncertain.hpp"

namespace meltlag::melt {

// Conductivity of a metal or a barrier plastic between room and printing temperature, W/(m·K).
struct Conductor {
  std::string_view name;
  double w_m_k, low, high;
  std::string_view source;
};
[[nodiscard]] std::span<Conductor const> conductors();
// nullptr where the name is not known.
[[nodiscard]] Conductor const* find_conductor(std::string_view name);

struct TubeStep {
  double length_mm;
  double inner_mm, outer_mm;  // diameters
  double screw_core_mm;       // of the screw inside; 0: none
  double conductivity_w_m_k;  // of the wall
  std::string material = {};
};

struct HeatBarrier {
  std::vector<TubeStep> steps;  // from the cold end to the hot one
  double screw_conductivity_w_m_k;
  double plastic_conductivity_w_m_k, heat_capacity_j_g_k, density_g_cm3;
  double cold_end_c, hot_end_c, softens_c;
  std::optional<double> sticks_c = {};  // from there on granules stick to each other and to walls
};

// Throws Error naming the profile's key for what cannot be.
void check(HeatBarrier const& barrier);
// A number of the barrier by its key in a profile: "barrel.tube[0].length_mm"; else nullptr.
[[nodiscard]] double* find_value(HeatBarrier& barrier, std::string_view key);

// Cross-sections of a step, mm².
struct TubeAreas {
  double wall, core, plastic;
};
[[nodiscard]] TubeAreas areas(TubeStep const& step);

struct BarrierPoint {
  double at_mm;  // from the cold end
  double temperature_c;
};

struct BarrierState {
  double flow_mm3_s;
  double leak_w;                           // reaches the cold end
  double from_hot_end_w;                   // leaves the hot end; the difference warms the plastic
  double wall_w, core_w, plastic_w;        // of the leak, where the tube meets the cold end
  std::vector<BarrierPoint> temperatures;  // along the tube, ends included
  // Where the plastic softens, from the cold end; nothing where it is soft or hard throughout.
  std::optional<double> softens_at_mm;
  double melt_mm3;  // soft plastic in the tube
};
[[nodiscard]] BarrierState barrier_state(HeatBarrier const& barrier, double flow_mm3_s);

// Granules that stick but have not melted yet are hard to push: a screw moves them by friction on
// the wall. Longer than `plug_bores` bores of them, or sticking at the hopper itself, are called a
// risk (experience, no source).
inline constexpr double plug_bores = 1.5;
struct PlugRisk {
  double sticks_at_mm = 0;  // from the cold end; 0: at the hopper already
  double sticky_mm = 0;     // from there to where they melt, or to the tube's end
  double bore_mm = 0;       // where they begin to stick
  bool risk = false;
};
// Nothing where it is not known when they stick, or where they do not in the tube.
[[nodiscard]] std::optional<PlugRisk> plug_risk(HeatBarrier const& barrier, double flow_mm3_s);
// Below which flow there is a risk, mm³/s: the faster the granules come, the shorter they stick. 0
// where there is none at rest; nothing where it is the same at any flow.
[[nodiscard]] std::optional<double> risky_below_mm3_s(HeatBarrier const& barrier);

struct BarrierSpread {
  Uncertain leak_w, softens_at_mm, melt_mm3;
  std::vector<std::string> doubts;  // keys, the one that makes melt_mm3 most uncertain first
};
[[nodiscard]] BarrierSpread barrier_spread(HeatBarrier const& barrier,
                                           Deviations const& deviations,
                                           double flow_mm3_s);

}  // namespace meltlag::melt
