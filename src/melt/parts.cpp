// SPDX-License-Identifier: MIT
#include "meltlag/melt/parts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "meltlag/base/vec.hpp"
#include "units.hpp"

namespace meltlag::melt {
namespace {

// The section in which the screw ends: the last one with a core, else the last.
BarrelSection const& tip_section(Barrel const& barrel) {
  auto const has_screw = [](BarrelSection const& s) { return s.screw_core_mm > 0; };
  auto const found = std::find_if(barrel.sections.rbegin(), barrel.sections.rend(), has_screw);
  return found == barrel.sections.rend() ? barrel.sections.back() : *found;
}

void check_all(Machine const& machine) {
  check(machine.barrel);
  check(machine.nozzle);
  check(machine.material);
  for (Part const& part : machine.parts) {
    check(part);
  }
}

std::vector<Share> shares_of(Machine const& machine,
                             double volume_mm3,
                             double area_mm2,
                             double p_mpa) {
  std::vector<Share> shares;
  auto const add = [&](ShareKind kind, std::string name, double c, double stiffness) {
    shares.push_back({kind, std::move(name), c, c * p_mpa, stiffness});
  };
  add(ShareKind::melt, {}, volume_mm3 / machine.material.bulk_modulus_mpa, 0);
  for (Part const& part : machine.parts) {
    double const k = stiffness_n_per_mm(part, machine);
    add(ShareKind::part, part.name, area_mm2 * area_mm2 / k, k);
  }
  if (machine.barrel.air_mm3 > 0) {
    add(ShareKind::air, {}, machine.barrel.air_mm3 / (p_mpa + atmosphere_mpa), 0);
  }
  return shares;
}

// S with the screw's own area: A²/k shrinks with the area's square for a known stiffness; a
// deflection was measured as a length, so its A·deflection shrinks with the area itself.
double least_run_on(Machine const& machine, std::vector<Share> const& shares, ThrustArea area) {
  double const ratio = area.screw_mm2 / area.bore_mm2;
  double sum = 0;
  std::size_t part = 0;
  for (Share const& share : shares) {
    double factor = 1;
    if (share.kind == ShareKind::part) {
      factor = machine.parts[part++].deflection_mm ? ratio : ratio * ratio;
    }
    sum += factor * share.run_on_mm3;
  }
  return sum;
}

}  // namespace

double melt_volume_mm3(Barrel const& barrel) {
  check(barrel);
  if (barrel.melt_volume_mm3) {
    return *barrel.melt_volume_mm3;
  }
  double volume =
      barrel.tube_melt_mm3 + barrel.tip_gap_mm * circle_area(tip_section(barrel).bore_mm);
  for (BarrelSection const& s : barrel.sections) {
    volume += s.length_mm * (circle_area(s.bore_mm) - circle_area(s.screw_core_mm));
  }
  return volume;
}

ThrustArea thrust_area(Barrel const& barrel) {
  check(barrel);
  BarrelSection const& tip = tip_section(barrel);
  double const bore = circle_area(tip.bore_mm);
  double const screw_mm = barrel.screw_diameter_mm.value_or(tip.screw_core_mm);
  return {screw_mm > 0 ? circle_area(screw_mm) : bore, bore};
}

double nozzle_constant(Nozzle const& nozzle, Material const& material) {
  check(nozzle);
  check(material);
  double const r = nozzle.diameter_mm / 2, n = material.flow_index;
  double const wall_rate_per_flow = (3 * n + 1) / n / (std::numbers::pi * r * r * r);
  double const length_mm = nozzle.hole_length_mm + nozzle.entrance_mm;
  return 2 * material.consistency_pa_sn * length_mm / r * std::pow(wall_rate_per_flow, n) /
         pa_per_mpa;
}

double nozzle_pressure_mpa(Nozzle const& nozzle, Material const& material, double flow_mm3_s) {
  return nozzle_constant(nozzle, material) *
         std::pow(std::max(0.0, flow_mm3_s), material.flow_index);
}

double stiffness_n_per_mm(Part const& part, Machine const& machine) {
  check(part);
  if (part.n_per_mm) {
    return *part.n_per_mm;
  }
  double const p = nozzle_pressure_mpa(machine.nozzle, machine.material, *part.at_flow_mm3_s);
  return p * thrust_area(machine.barrel).bore_mm2 / *part.deflection_mm;
}

PartsLag lag_from_parts(Machine const& machine, double at_flow_mm3_s) {
  check_all(machine);
  if (!(at_flow_mm3_s > 0)) {
    throw Error("the reference flow is not above 0",
                {.file = "[lag] at_flow_mm3_s"},
                "give the flow of a usual print");
  }
  Material const& material = machine.material;
  double const k = nozzle_constant(machine.nozzle, material);
  double const p = k * std::pow(at_flow_mm3_s, material.flow_index);
  double const volume = melt_volume_mm3(machine.barrel);
  ThrustArea const area = thrust_area(machine.barrel);
  std::vector<Share> shares = shares_of(machine, volume, area.bore_mm2, p);
  double c = 0;
  for (Share const& share : shares) {
    c += share.mm3_per_mpa;
  }
  double const least = least_run_on(machine, shares, area);
  return {.law = {.run_on_mm3 = c * p,
                  .at_flow_mm3_s = at_flow_mm3_s,
                  .flow_index = material.flow_index,
                  .at_c = material.at_c,
                  .activation_kj_mol = material.activation_kj_mol},
          .melt_volume_mm3 = volume,
          .area = area,
          .nozzle_constant = k,
          .compliance_mm3_mpa = c,
          .pressure_mpa = p,
          .thrust_n = p * area.bore_mm2,
          .least_run_on_mm3 = least,
          .shares = std::move(shares)};
}

double pressure_at_run_on_mpa(PartsLag const& lag, double run_on_mm3) {
  return std::max(0.0, run_on_mm3) / lag.compliance_mm3_mpa;
}

std::optional<double> greatest_run_on_mm3(PartsLag const& lag, PressureLimits const& limits) {
  double const none = std::numeric_limits<double>::infinity();
  double const pressure_mpa = std::min(limits.max_pressure_mpa.value_or(none),
                                       limits.max_thrust_n.value_or(none) / lag.area.bore_mm2);
  if (pressure_mpa == none || lag.compliance_mm3_mpa <= 0) return {};
  return lag.compliance_mm3_mpa * pressure_mpa;
}

double mean_residence_s(double melt_volume_mm3, double flow_mm3_s) {
  return flow_mm3_s > 0 ? melt_volume_mm3 / flow_mm3_s : std::numeric_limits<double>::infinity();
}

}  // namespace meltlag::melt
