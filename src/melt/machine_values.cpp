// SPDX-License-Identifier: MIT
#include <array>
#include <charconv>

#include "meltlag/melt/causes.hpp"

namespace meltlag::melt {
namespace {

double* given(std::optional<double>& value) { return value ? &*value : nullptr; }

// "sections[2].bore_mm" with prefix "sections": index 2, name "bore_mm".
struct Entry {
  std::size_t index;
  std::string_view name;
};
std::optional<Entry> entry_of(std::string_view key, std::string_view list) {
  if (!key.starts_with(list) || key.size() <= list.size() || key[list.size()] != '[') return {};
  key.remove_prefix(list.size() + 1);
  Entry entry{};
  auto const [end, error] = std::from_chars(key.data(), key.data() + key.size(), entry.index);
  key.remove_prefix(static_cast<std::size_t>(end - key.data()));
  if (error != std::errc{} || !key.starts_with("].")) return {};
  entry.name = key.substr(2);
  return entry;
}

double* of_section(BarrelSection& section, std::string_view name) {
  if (name == "length_mm") return &section.length_mm;
  if (name == "bore_mm") return &section.bore_mm;
  return name == "screw_core_mm" ? &section.screw_core_mm : nullptr;
}

double* of_barrel(Barrel& barrel, std::string_view key) {
  if (auto const entry = entry_of(key, "sections"))
    return entry->index < barrel.sections.size()
               ? of_section(barrel.sections[entry->index], entry->name)
               : nullptr;
  if (key == "tip_gap_mm") return &barrel.tip_gap_mm;
  if (key == "tube_melt_mm3") return &barrel.tube_melt_mm3;
  if (key == "air_mm3") return &barrel.air_mm3;
  if (key == "screw_diameter_mm") return given(barrel.screw_diameter_mm);
  return key == "melt_volume_mm3" ? given(barrel.melt_volume_mm3) : nullptr;
}

double* of_nozzle(Nozzle& nozzle, std::string_view key) {
  if (key == "diameter_mm") return &nozzle.diameter_mm;
  if (key == "hole_length_mm") return &nozzle.hole_length_mm;
  return key == "entrance_mm" ? &nozzle.entrance_mm : nullptr;
}

double* of_mechanics(Machine& machine, std::string_view key) {
  if (key == "friction_n") return &machine.friction_n;
  auto const entry = entry_of(key, "parts");
  if (!entry || entry->index >= machine.parts.size()) return nullptr;
  Part& part = machine.parts[entry->index];
  if (entry->name == "n_per_mm") return given(part.n_per_mm);
  return entry->name == "deflection_mm" ? given(part.deflection_mm) : nullptr;
}

double* of_material(Material& material, std::string_view key) {
  if (key == "bulk_modulus_mpa") return &material.bulk_modulus_mpa;
  if (key == "consistency_pa_sn") return &material.consistency_pa_sn;
  return key == "flow_index" ? &material.flow_index : nullptr;
}

}  // namespace

double* find_value(Machine& machine, std::string_view key) {
  std::size_t const dot = key.find('.');
  if (dot == std::string_view::npos) return nullptr;
  std::string_view const section = key.substr(0, dot), name = key.substr(dot + 1);
  if (section == "barrel") return of_barrel(machine.barrel, name);
  if (section == "nozzle") return of_nozzle(machine.nozzle, name);
  if (section == "mechanics") return of_mechanics(machine, name);
  return section == "material" ? of_material(machine.material, name) : nullptr;
}

}  // namespace meltlag::melt
