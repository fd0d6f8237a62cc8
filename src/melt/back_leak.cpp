// SPDX-License-Identifier: MIT
#include "meltlag/melt/back_leak.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "meltlag/melt/screw.hpp"

namespace meltlag::melt {
namespace {

constexpr double least_turns = 2, deepest_share = 0.1, least_index = 0.9;

}  // namespace

BackLeak back_leak(Machine const& machine, double flow_mm3_s) {
  BackLeak leak;
  Barrel const& barrel = machine.barrel;
  auto const no = [&](std::string why) { leak.because.push_back(std::move(why)); };
  if (!barrel.screw_diameter_mm || !barrel.screw_pitch_mm) {
    no("screw_diameter_mm and screw_pitch_mm are not both given");
    return leak;
  }
  double const d = *barrel.screw_diameter_mm, pitch = *barrel.screw_pitch_mm;
  double length = 0, core = 0;
  for (BarrelSection const& section : barrel.sections) {
    if (section.screw_core_mm <= 0) continue;
    length += section.length_mm;
    core = section.screw_core_mm;
  }
  double const depth = (d - core) / 2, turns = length / pitch;
  if (turns < least_turns)
    no(fmt::format("only {:.1f} turns of the screw hold melt: the plug of granules above seals",
                   turns));
  if (core > 0 && depth > deepest_share * d)
    no(fmt::format("its channel of {:.2g} mm is too deep for a shallow one", depth));
  if (machine.material.flow_index < least_index)
    no(fmt::format("the melt shear-thins (flow index {:g})", machine.material.flow_index));
  if (core <= 0) no("no section has a screw core");
  if (!leak.because.empty()) return leak;
  MeteringZone const zone{.screw_diameter_mm = d,
                          .channel_depth_mm = depth,
                          .flight_angle_rad = std::atan(pitch / (std::numbers::pi * d)),
                          .length_mm = length,
                          .viscosity_pa_s = machine.material.consistency_pa_sn};
  leak.mm3_s =
      back_flow_mm3_s_mpa(zone) * nozzle_pressure_mpa(machine.nozzle, machine.material, flow_mm3_s);
  return leak;
}

}  // namespace meltlag::melt
