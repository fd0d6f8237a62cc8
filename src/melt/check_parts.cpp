// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include "meltlag/base/error.hpp"
#include "meltlag/melt/parts.hpp"

namespace meltlag::melt {
namespace {

[[noreturn]] void fail(std::string what, std::string key, std::string hint) {
  throw Error(std::move(what), {.file = std::move(key)}, std::move(hint));
}

void need_positive(double value, std::string const& key) {
  if (!(value > 0) || std::isinf(value)) {
    fail(fmt::format("{:g} is not a positive number", value), key, "give a number above 0");
  }
}

void need_not_negative(double value, std::string const& key) {
  if (!(value >= 0) || std::isinf(value)) {
    fail(fmt::format("{:g} is below 0", value), key, "give 0 or more");
  }
}

void check_section(BarrelSection const& section, std::size_t number) {
  std::string const key = "[barrel] sections";
  auto const where = [&](char const* name) { return fmt::format("{}[{}].{}", key, number, name); };
  need_positive(section.length_mm, where("length_mm"));
  need_positive(section.bore_mm, where("bore_mm"));
  need_not_negative(section.screw_core_mm, where("screw_core_mm"));
  if (section.screw_core_mm >= section.bore_mm) {
    fail(fmt::format("section {} has a screw core of {:g} mm in a bore of {:g} mm",
                     number,
                     section.screw_core_mm,
                     section.bore_mm),
         key,
         "the core has to be thinner than the bore; measure the screw's root, not its flights");
  }
}

}  // namespace

void check(Barrel const& barrel) {
  if (barrel.sections.empty()) {
    fail("no barrel section is given",
         "[barrel] sections",
         "give at least one, for example {length_mm = 60, bore_mm = 12, screw_core_mm = 8}");
  }
  double narrowest_mm = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < barrel.sections.size(); ++i) {
    BarrelSection const& section = barrel.sections[i];
    check_section(section, i + 1);
    if (section.screw_core_mm > 0) {
      narrowest_mm = std::min(narrowest_mm, section.bore_mm);
    }
  }
  need_not_negative(barrel.tip_gap_mm, "[barrel] tip_gap_mm");
  need_not_negative(barrel.air_mm3, "[barrel] air_mm3");
  need_not_negative(barrel.tube_melt_mm3, "[barrel] tube");
  if (barrel.melt_volume_mm3) {
    need_positive(*barrel.melt_volume_mm3, "[barrel] melt_volume_mm3");
  }
  if (barrel.screw_pitch_mm) {
    need_positive(*barrel.screw_pitch_mm, "[barrel] screw_pitch_mm");
  }
  if (barrel.screw_diameter_mm) {
    need_positive(*barrel.screw_diameter_mm, "[barrel] screw_diameter_mm");
    if (*barrel.screw_diameter_mm > narrowest_mm) {
      fail(fmt::format("a screw of {:g} mm does not fit a bore of {:g} mm",
                       *barrel.screw_diameter_mm,
                       narrowest_mm),
           "[barrel] screw_diameter_mm",
           "measure the screw over its flights and each bore that it passes");
    }
  }
}

void check(Nozzle const& nozzle) {
  need_positive(nozzle.diameter_mm, "[nozzle] diameter_mm");
  need_positive(nozzle.hole_length_mm, "[nozzle] hole_length_mm");
  need_not_negative(nozzle.entrance_mm, "[nozzle] entrance_mm");
  need_not_negative(nozzle.ooze_mm3_s, "[nozzle] ooze_mm3_s");
}

void check(Part const& part) {
  std::string const key = fmt::format("[mechanics] parts \"{}\"", part.name);
  if (part.n_per_mm.has_value() == part.deflection_mm.has_value()) {
    fail(part.n_per_mm ? "a part has both n_per_mm and deflection_mm"
                       : "a part has neither n_per_mm nor deflection_mm",
         key,
         "give n_per_mm, or deflection_mm together with at_flow_mm3_s");
  }
  if (part.n_per_mm) {
    return need_positive(*part.n_per_mm, key + " n_per_mm");
  }
  need_positive(*part.deflection_mm, key + " deflection_mm");
  if (!part.at_flow_mm3_s) {
    fail("deflection_mm stands without at_flow_mm3_s",
         key,
         "give the flow at which the dial gauge was read");
  }
  need_positive(*part.at_flow_mm3_s, key + " at_flow_mm3_s");
}

void check(Material const& material) {
  need_positive(material.density_g_cm3, "[material] density_g_cm3");
  need_positive(material.bulk_modulus_mpa, "[material] bulk_modulus_mpa");
  need_positive(material.consistency_pa_sn, "[material] consistency_pa_sn");
  need_positive(material.flow_index, "[material] flow_index");
  if (material.activation_kj_mol) {
    need_not_negative(*material.activation_kj_mol, "[material] activation_kj_mol");
  }
  if (material.longest_residence_s) {
    need_positive(*material.longest_residence_s, "[material] longest_residence_s");
  }
}

}  // namespace meltlag::melt
