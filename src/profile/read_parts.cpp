// SPDX-License-Identifier: MIT
#include "read_parts.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "document.hpp"
#include "meltlag/profile/load_test.hpp"

namespace meltlag::profile {
namespace {

// The room that owns a struct has the last word on it; its complaint gets the place in the file.
template <typename Struct>
void check_at(Struct const& filled, Place const& place) {
  try {
    melt::check(filled);
  } catch (Error const& error) {
    std::string_view what = error.what();
    what = what.substr(0, what.find('\n'));
    throw Error(std::string{what}, place, error.hint());
  }
}

melt::BarrelSection read_barrel_section(Section const& entry) {
  melt::BarrelSection const section{
      .length_mm = entry.need("length_mm", Rule::positive),
      .bore_mm = entry.need("bore_mm", Rule::positive),
      .screw_core_mm = entry.need("screw_core_mm", Rule::not_negative)};
  if (section.screw_core_mm >= section.bore_mm)
    throw Error(fmt::format("{} is {}, in a bore of {} mm",
                            entry.shown("screw_core_mm"),
                            section.screw_core_mm,
                            section.bore_mm),
                entry.place("screw_core_mm"),
                "the core is thinner than the bore; measure the screw's root, not its flights");
  return section;
}

melt::Part read_part(Section const& entry) {
  std::optional<std::string> const name = entry.text("name");
  if (!name || name->empty()) entry.throw_missing("name");
  melt::Part part{.name = *name,
                  .n_per_mm = entry.number("n_per_mm", Rule::positive),
                  .deflection_mm = entry.number("deflection_mm", Rule::positive),
                  .at_flow_mm3_s = entry.number("at_flow_mm3_s", Rule::positive)};
  check_at(part, entry.place());
  return part;
}

melt::Part read_load_test_part(Section const& section, Profile& profile) {
  std::string const path = *section.file("load_test");
  require_file(path, section.place("load_test"), section.shown("load_test"));
  LoadTest const test = read_load_test(read_text(path, "load test"), path);
  if (test.n_per_mm_sd > 0) profile.sd["mechanics.parts[0].n_per_mm"] = test.n_per_mm_sd;
  return {.name = "load test", .n_per_mm = test.n_per_mm};
}

}  // namespace

void read_barrel(Section const& section, Profile& profile) {
  if (section.empty()) return;
  melt::Barrel barrel;
  auto const entries = section.entries("sections");
  if (!entries) section.throw_missing("sections");
  for (Section const& entry : *entries) barrel.sections.push_back(read_barrel_section(entry));
  barrel.tip_gap_mm = section.number("tip_gap_mm", Rule::not_negative).value_or(0.0);
  barrel.screw_diameter_mm = section.number("screw_diameter_mm", Rule::positive);
  barrel.screw_pitch_mm = section.number("screw_pitch_mm", Rule::positive);
  barrel.air_mm3 = section.number("air_mm3", Rule::not_negative).value_or(0.0);
  barrel.melt_volume_mm3 = section.number("melt_volume_mm3", Rule::positive);
  std::string_view const suspect =
      section.has("screw_diameter_mm") ? "screw_diameter_mm" : "sections";
  check_at(barrel, section.place(suspect));
  profile.barrel = std::move(barrel);
}

void read_nozzle(Section const& section, Profile& profile) {
  if (section.empty()) return;
  profile.nozzle =
      melt::Nozzle{.diameter_mm = section.need("diameter_mm", Rule::positive),
                   .hole_length_mm = section.need("hole_length_mm", Rule::positive),
                   .ooze_mm3_s = section.number("ooze_mm3_s", Rule::not_negative).value_or(0.0),
                   .entrance_mm = section.number("entrance_mm", Rule::not_negative).value_or(0.0)};
  check_at(*profile.nozzle, section.place());
}

void read_mechanics(Section const& section, Profile& profile) {
  if (section.empty()) return;
  profile.friction_n = section.number("friction_n", Rule::not_negative).value_or(0.0);
  if (section.has("parts") && section.has("load_test"))
    throw Error(
        "[mechanics] has both parts and load_test",
        section.place("load_test"),
        "the load test already holds what all parts together give way: keep one of the two");
  if (section.has("load_test")) {
    profile.mechanics.push_back(read_load_test_part(section, profile));
    return;
  }
  auto const entries = section.entries("parts");
  if (!entries && section.has("friction_n")) return;
  if (!entries) section.throw_missing("parts");
  for (Section const& entry : *entries) profile.mechanics.push_back(read_part(entry));
}

void read_material(Section const& section, Profile& profile) {
  profile.material = {.name = profile.material.name,
                      .density_g_cm3 = section.number("density_g_cm3", Rule::positive),
                      .bulk_modulus_mpa = section.number("bulk_modulus_mpa", Rule::positive),
                      .consistency_pa_sn = section.number("consistency_pa_sn", Rule::positive),
                      .flow_index = section.number("flow_index", Rule::positive),
                      .at_c = section.number("at_c", Rule::any),
                      .activation_kj_mol = section.number("activation_kj_mol", Rule::not_negative),
                      .longest_residence_s = section.number("longest_residence_s", Rule::positive),
                      .sticks_c = section.number("sticks_c", Rule::any),
                      .softens_c = section.number("softens_c", Rule::any),
                      .conductivity_w_m_k = section.number("conductivity_w_m_k", Rule::positive),
                      .heat_capacity_j_g_k = section.number("heat_capacity_j_g_k", Rule::positive)};
  if (auto const name = section.text("use")) profile.material.name = *name;
  if (auto const mix = section.entries("mix")) {
    std::vector<std::string> names;
    for (Section const& part : *mix)
      names.push_back(
          fmt::format("{:g} {}", part.need("parts", Rule::positive), *part.text("use")));
    profile.material.name = fmt::format("{}", fmt::join(names, " + "));
  }
  if (profile.measured_lag)
    profile.measured_lag->activation_kj_mol = profile.material.activation_kj_mol;
}

}  // namespace meltlag::profile
