// SPDX-License-Identifier: MIT
#include "meltlag/melt/changes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "meltlag/melt/temperature.hpp"

namespace meltlag::melt {
namespace {

constexpr double shorter_mm = 5, hotter_c = 10;
constexpr double rigid_times = 1e6;
// Nozzles that are sold (common practice, no source); beyond them a tenth more.
constexpr double sold_mm[] = {0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.4, 1.5, 1.8, 2.0, 2.5, 3.0};

double next_nozzle_mm(double diameter_mm) {
  constexpr double same_mm = 0.02;
  for (double const sold : sold_mm)
    if (sold > diameter_mm + same_mm) return sold;
  return 1.1 * diameter_mm;
}

// A deflection read by a dial gauge was read on the machine as it is: as a stiffness it stays the
// same while the rest of the machine changes.
Machine with_stiffnesses(Machine machine) {
  Machine const given = machine;
  for (Part& part : machine.parts)
    part = {.name = part.name, .n_per_mm = stiffness_n_per_mm(part, given)};
  return machine;
}

class Changer {
 public:
  explicit Changer(WhatIf const& what)
      : what_(what),
        machine_(with_stiffnesses(what.machine)),
        at_flow_(what.measured ? what.measured->at_flow_mm3_s : what.at_flow_mm3_s),
        now_(lag_from_parts(machine_, at_flow_)) {
    double const c0 = now_.compliance_mm3_mpa;
    seen_mm3_mpa_ = what.measured ? what.measured->run_on_mm3 / now_.pressure_mpa : c0;
    scale_ = std::min(1.0, seen_mm3_mpa_ / c0);
    lag_now_s_ = lag_s(law_of(now_), what.at_flow_mm3_s);
  }

  [[nodiscard]] Machine const& machine() const { return machine_; }

  [[nodiscard]] Change of(std::string name, Machine const& changed) const {
    LagLaw const law = law_of(lag_from_parts(changed, at_flow_));
    PartsLag const here = lag_from_parts(changed, what_.at_flow_mm3_s);
    double const lag = lag_s(law, what_.at_flow_mm3_s);
    return {.name = std::move(name),
            .law = law,
            .lag_s = lag,
            .lag_change_s = lag - lag_now_s_,
            .run_on_mm3 = run_on_at_flow(law, what_.at_flow_mm3_s),
            .melt_volume_mm3 = here.melt_volume_mm3,
            .mean_residence_s = melt::mean_residence_s(here.melt_volume_mm3, what_.at_flow_mm3_s),
            .pressure_mpa = here.pressure_mpa,
            .thrust_n = here.thrust_n + changed.friction_n};
  }

  template <class Alter>
  [[nodiscard]] Change altered(std::string name, Alter alter) const {
    Machine changed = machine_;
    alter(changed);
    return of(std::move(name), changed);
  }

 private:
  [[nodiscard]] LagLaw law_of(PartsLag const& parts) const {
    LagLaw law = what_.measured ? *what_.measured : parts.law;
    double const c = seen_mm3_mpa_ + scale_ * (parts.compliance_mm3_mpa - now_.compliance_mm3_mpa);
    law.run_on_mm3 = c * parts.pressure_mpa;
    return law;
  }

  WhatIf const& what_;
  Machine machine_;
  double at_flow_;
  PartsLag now_;
  double seen_mm3_mpa_ = 0, scale_ = 1, lag_now_s_ = 0;
};

// Takes a length from the longest section, at most half of it, and its share from a measured
// volume.
double shorten(Barrel& barrel) {
  auto const longest = std::ranges::max_element(barrel.sections, {}, &BarrelSection::length_mm);
  double const by = std::min(shorter_mm, longest->length_mm / 2);
  Barrel reckoned = barrel;
  reckoned.melt_volume_mm3.reset();
  double const before = melt_volume_mm3(reckoned);
  longest->length_mm -= by;
  reckoned.sections = barrel.sections;
  if (barrel.melt_volume_mm3) *barrel.melt_volume_mm3 *= melt_volume_mm3(reckoned) / before;
  return by;
}

void halve_gap(Barrel& barrel) {
  Barrel reckoned = barrel;
  reckoned.melt_volume_mm3.reset();
  double const before = melt_volume_mm3(reckoned);
  barrel.tip_gap_mm /= 2;
  reckoned.tip_gap_mm = barrel.tip_gap_mm;
  if (barrel.melt_volume_mm3) *barrel.melt_volume_mm3 *= melt_volume_mm3(reckoned) / before;
}

}  // namespace

Change as_it_is(WhatIf const& what) {
  Changer const changer(what);
  return changer.of("as it is", changer.machine());
}

std::vector<Change> plain_changes(WhatIf const& what) {
  Changer const changer(what);
  std::vector<Change> changes;
  for (std::size_t i = 0; i < what.machine.parts.size(); ++i) {
    std::string const& name = what.machine.parts[i].name;
    for (auto const& [words, times, kind] :
         {std::tuple{" twice as stiff", 2.0, ChangeKind::stiffer},
          std::tuple{" as if rigid", rigid_times, ChangeKind::rigid}}) {
      changes.push_back(changer.altered(
          name + words, [i, by = times](Machine& m) { *m.parts[i].n_per_mm *= by; }));
      changes.back().kind = kind;
      changes.back().part = i;
    }
  }
  if (what.machine.barrel.tip_gap_mm > 0)
    changes.push_back(changer.altered("tip gap halved", [](Machine& m) { halve_gap(m.barrel); }));
  Barrel copy = what.machine.barrel;
  double const by = shorten(copy);
  changes.push_back(changer.altered(fmt::format("hot section {:g} mm shorter", by),
                                    [](Machine& m) { shorten(m.barrel); }));
  double const next_mm = next_nozzle_mm(what.machine.nozzle.diameter_mm);
  changes.push_back(changer.altered(fmt::format("nozzle of {:g} mm", next_mm),
                                    [next_mm](Machine& m) { m.nozzle.diameter_mm = next_mm; }));
  std::optional<double> const energy = what.machine.material.activation_kj_mol;
  if (energy && what.melt_c) {
    double const factor = viscosity_factor(
        {.activation_kj_mol = *energy, .from_c = *what.melt_c, .to_c = *what.melt_c + hotter_c});
    changes.push_back(
        changer.altered(fmt::format("melt {:g} °C hotter", hotter_c),
                        [factor](Machine& m) { m.material.consistency_pa_sn *= factor; }));
  }
  return changes;
}

std::vector<Change> small_changes(WhatIf const& what) {
  Changer const changer(what);
  std::vector<Change> changes;
  for (std::size_t i = 0; i < what.machine.parts.size(); ++i)
    changes.push_back(changer.altered(what.machine.parts[i].name + " 10 % stiffer",
                                      [i](Machine& m) { *m.parts[i].n_per_mm *= 1.1; }));
  changes.push_back(changer.altered("10 % less melt", [](Machine& m) {
    m.barrel.melt_volume_mm3 = 0.9 * melt_volume_mm3(m.barrel);
  }));
  changes.push_back(
      changer.altered("nozzle 1 % wider", [](Machine& m) { m.nozzle.diameter_mm *= 1.01; }));
  if (what.machine.barrel.air_mm3 > 0)
    changes.push_back(
        changer.altered("10 % less air", [](Machine& m) { m.barrel.air_mm3 *= 0.9; }));
  std::ranges::stable_sort(changes, {}, &Change::lag_change_s);
  return changes;
}

}  // namespace meltlag::melt
