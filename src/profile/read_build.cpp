// SPDX-License-Identifier: MIT
// The tube of [barrel], and what prints on this build showed.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "read_parts.hpp"

namespace meltlag::profile {
namespace {

// A wall's or the screw's conductivity by name; its range becomes the deviation of `key`.
double conductivity_of(Section const& section,
                       std::string_view name_key,
                       std::string const& key,
                       Profile& profile) {
  std::string const name = *section.text(name_key);
  melt::Conductor const* const found = melt::find_conductor(name);
  if (!found) {
    std::vector<std::string_view> names;
    for (melt::Conductor const& conductor : melt::conductors()) names.push_back(conductor.name);
    throw Error(fmt::format("{} is \"{}\", which is not known", section.shown(name_key), name),
                section.place(name_key),
                fmt::format("known: {}; for a tube, conductivity_w_m_k says it as a number",
                            fmt::join(names, ", ")));
  }
  profile.sd.try_emplace(key, (found->high - found->low) / std::sqrt(12.0));
  return found->w_m_k;
}

melt::TubeStep read_step(Section const& entry, std::size_t index, Profile& profile) {
  if (entry.has("material") == entry.has("conductivity_w_m_k"))
    throw Error(fmt::format("{} has {}",
                            entry.shown("material"),
                            entry.has("material") ? "conductivity_w_m_k beside it"
                                                  : "to be given, or conductivity_w_m_k"),
                entry.place(),
                entry.hint("material"));
  double const first_core = profile.barrel->sections.front().screw_core_mm;
  melt::TubeStep step{
      .length_mm = entry.need("length_mm", Rule::positive),
      .inner_mm = entry.need("inner_mm", Rule::positive),
      .outer_mm = entry.need("outer_mm", Rule::positive),
      .screw_core_mm = entry.number("screw_core_mm", Rule::not_negative).value_or(first_core),
      .conductivity_w_m_k = entry.number("conductivity_w_m_k", Rule::positive).value_or(0.0),
      .material = entry.text("material").value_or("")};
  if (!step.material.empty())
    step.conductivity_w_m_k = conductivity_of(
        entry, "material", fmt::format("barrel.tube[{}].conductivity_w_m_k", index), profile);
  return step;
}

// The check belongs to the room that owns the struct; the place in the file is that of the tube.
void check_at(melt::HeatBarrier const& barrier, Section const& barrel) {
  try {
    melt::check(barrier);
  } catch (Error const& error) {
    std::string_view what = error.what();
    what = what.substr(0, what.find('\n'));
    throw Error(std::string{what}, barrel.place("tube"), error.hint());
  }
}

// What has melted in the tube at the lag's flow belongs to the melt, unless that was measured.
void melt_in_tube(melt::HeatBarrier const& barrier, Profile& profile) {
  if (profile.barrel->melt_volume_mm3) return;
  double const flow = lag_flow_mm3_s(profile);
  melt::Uncertain const melt = melt::barrier_spread(barrier, profile.sd, flow).melt_mm3;
  profile.barrel->tube_melt_mm3 = melt.value;
  if (melt.sd > 0) profile.sd["barrel.tube_melt_mm3"] = melt.sd;
}

}  // namespace

void read_heat_barrier(Section const& barrel, Profile& profile) {
  auto const entries = barrel.entries("tube");
  auto const hot = barrel.number("hot_end_c", Rule::any);
  auto const cold = barrel.number("cold_end_c", Rule::any);
  if (!entries) return;
  melt::HeatBarrier barrier{};
  for (Section const& entry : *entries)
    barrier.steps.push_back(read_step(entry, barrier.steps.size(), profile));
  if (!barrel.has("screw_material")) barrel.throw_missing("screw_material");
  barrier.screw_conductivity_w_m_k =
      conductivity_of(barrel, "screw_material", "barrel.screw_conductivity_w_m_k", profile);
  auto const take = [&](std::optional<double> const& value, double& into, char const* key) {
    if (value) into = *value;
    if (!value) profile.barrier_lacks.emplace_back(key);
  };
  MaterialFacts const& facts = profile.material;
  take(hot, barrier.hot_end_c, "[barrel] hot_end_c");
  take(cold, barrier.cold_end_c, "[barrel] cold_end_c");
  take(facts.softens_c, barrier.softens_c, "[material] softens_c");
  take(facts.conductivity_w_m_k,
       barrier.plastic_conductivity_w_m_k,
       "[material] conductivity_w_m_k");
  take(facts.heat_capacity_j_g_k, barrier.heat_capacity_j_g_k, "[material] heat_capacity_j_g_k");
  take(facts.density_g_cm3, barrier.density_g_cm3, "[material] density_g_cm3");
  if (!profile.barrier_lacks.empty()) return;
  barrier.sticks_c = facts.sticks_c;
  check_at(barrier, barrel);
  melt_in_tube(barrier, profile);
  profile.heat_barrier = std::move(barrier);
}

void read_measured(Section const& top, Profile& profile) {
  auto const entries = top.entries("measured");
  if (!entries) return;
  for (Section const& entry : *entries) {
    MeasuredPrint print{.date = entry.text("date").value_or(""),
                        .notes = entry.text("notes").value_or(""),
                        .run_on_mm3 = entry.number("run_on_mm3", Rule::not_negative),
                        .at_flow_mm3_s = entry.number("at_flow_mm3_s", Rule::positive),
                        .lag_s = entry.number("lag_s", Rule::not_negative),
                        .blob_mm3 = entry.number("blob_mm3", Rule::not_negative),
                        .gap_mm = entry.number("gap_mm", Rule::not_negative)};
    if (!print.run_on_mm3 && !print.lag_s && !print.blob_mm3 && !print.gap_mm)
      throw Error("a [[measured]] print holds no measurement",
                  entry.place(),
                  "give run_on_mm3, lag_s, blob_mm3 or gap_mm");
    if (print.run_on_mm3 && !print.at_flow_mm3_s && !profile.measured_lag)
      throw Error("run_on_mm3 of a print stands without a flow",
                  entry.place("run_on_mm3"),
                  "give at_flow_mm3_s beside it, or [lag]");
    profile.measured.push_back(std::move(print));
  }
}

}  // namespace meltlag::profile
