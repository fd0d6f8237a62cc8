// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/melt/heat_barrier.hpp"

namespace meltlag::melt {
namespace {

void need(bool holds, std::string what, std::string key, std::string hint) {
  if (!holds) throw Error(std::move(what), {.file = std::move(key)}, std::move(hint));
}

void need_above_zero(double value, std::string key) {
  need(value > 0 && std::isfinite(value),
       fmt::format("{:g} is not a positive number", value),
       std::move(key),
       "give a number above 0");
}

void check_step(TubeStep const& step, std::size_t index) {
  auto const key = [&](char const* name) {
    return fmt::format("[barrel] tube[{}].{}", index, name);
  };
  need_above_zero(step.length_mm, key("length_mm"));
  need_above_zero(step.inner_mm, key("inner_mm"));
  need_above_zero(step.conductivity_w_m_k, key("material"));
  need(step.outer_mm > step.inner_mm,
       fmt::format(
           "the tube is {:g} mm wide outside and {:g} mm inside", step.outer_mm, step.inner_mm),
       key("outer_mm"),
       "measure both diameters; the wall lies between them");
  need(step.screw_core_mm >= 0 && step.screw_core_mm < step.inner_mm,
       fmt::format("a screw core of {:g} mm does not fit a tube of {:g} mm",
                   step.screw_core_mm,
                   step.inner_mm),
       key("screw_core_mm"),
       "measure the screw's root, not its flights");
}

double* of_step(TubeStep& step, std::string_view name) {
  if (name == "length_mm") return &step.length_mm;
  if (name == "inner_mm") return &step.inner_mm;
  if (name == "outer_mm") return &step.outer_mm;
  if (name == "screw_core_mm") return &step.screw_core_mm;
  return name == "conductivity_w_m_k" ? &step.conductivity_w_m_k : nullptr;
}

}  // namespace

void check(HeatBarrier const& barrier) {
  need(!barrier.steps.empty(),
       "the tube has no steps",
       "[barrel] tube",
       "give at least one [[barrel.tube]]");
  for (std::size_t i = 0; i < barrier.steps.size(); ++i) check_step(barrier.steps[i], i);
  need_above_zero(barrier.screw_conductivity_w_m_k, "[barrel] screw_material");
  need_above_zero(barrier.plastic_conductivity_w_m_k, "[material] conductivity_w_m_k");
  need_above_zero(barrier.heat_capacity_j_g_k, "[material] heat_capacity_j_g_k");
  need_above_zero(barrier.density_g_cm3, "[material] density_g_cm3");
  need(barrier.hot_end_c > barrier.cold_end_c,
       fmt::format("the hot end ({:g} °C) is not hotter than the cold end ({:g} °C)",
                   barrier.hot_end_c,
                   barrier.cold_end_c),
       "[barrel] hot_end_c",
       "give the temperatures of both ends of the tube");
  need(std::isfinite(barrier.softens_c),
       "the softening temperature is no number",
       "[material] softens_c",
       "give the temperature at which granules turn to melt");
}

double* find_value(HeatBarrier& barrier, std::string_view key) {
  if (key == "barrel.cold_end_c") return &barrier.cold_end_c;
  if (key == "barrel.hot_end_c") return &barrier.hot_end_c;
  if (key == "barrel.screw_conductivity_w_m_k") return &barrier.screw_conductivity_w_m_k;
  if (key == "material.softens_c") return &barrier.softens_c;
  if (key == "material.conductivity_w_m_k") return &barrier.plastic_conductivity_w_m_k;
  if (key == "material.heat_capacity_j_g_k") return &barrier.heat_capacity_j_g_k;
  if (key == "material.density_g_cm3") return &barrier.density_g_cm3;
  constexpr std::string_view list = "barrel.tube[";
  if (!key.starts_with(list)) return nullptr;
  key.remove_prefix(list.size());
  std::size_t index = 0;
  auto const [end, error] = std::from_chars(key.data(), key.data() + key.size(), index);
  key.remove_prefix(static_cast<std::size_t>(end - key.data()));
  if (error != std::errc{} || !key.starts_with("].") || index >= barrier.steps.size())
    return nullptr;
  return of_step(barrier.steps[index], key.substr(2));
}

}  // namespace meltlag::melt
