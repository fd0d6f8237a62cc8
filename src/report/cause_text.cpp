// SPDX-License-Identifier: MIT
#include "meltlag/report/cause_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <vector>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

constexpr double large_share = 0.3;  // of a deviation in its value: first order is rough there

}  // namespace

std::string volume_text(melt::Causes const& causes) {
  std::vector<std::string> parts;
  for (melt::VolumePart const& part : causes.volumes)
    parts.push_back(fmt::format("{} {:.0f} mm³", part.name, part.mm3));
  return fmt::format("Melt: {} mm³ ({}).",
                     plus_minus(causes.melt_volume_mm3.value, causes.melt_volume_mm3.sd),
                     fmt::join(parts, ", "));
}

std::string thrust_text(melt::Causes const& causes) {
  melt::ThrustArea const area = causes.parts.area;
  std::string text = fmt::format("Pressure behind the nozzle {} MPa",
                                 plus_minus(causes.pressure_mpa.value, causes.pressure_mpa.sd));
  if (causes.entrance_mpa > 0)
    text += fmt::format(", of it {} in the hole's entrance", plus_minus(causes.entrance_mpa, 0));
  text += fmt::format("; thrust on the screw {} N",
                      plus_minus(causes.thrust_n.value, causes.thrust_n.sd));
  if (causes.wind_up)
    text += fmt::format(
        ", of it {:g} N friction, which turns round with the screw: each reversal "
        "turns {} mm³ in vain while the parts give {} mm",
        causes.wind_up->friction_n,
        plus_minus(causes.wind_up->mm3, 0),
        plus_minus(causes.wind_up->deflection_mm, 0));
  return text + fmt::format(
                    ". Taken to push on the whole bore, {:.1f} mm²; if only on the screw's "
                    "{:.1f} mm², the run-on is {} mm³ and the lag {} s.",
                    area.bore_mm2,
                    area.screw_mm2,
                    plus_minus(causes.parts.least_run_on_mm3, 0),
                    plus_minus(causes.least_lag_s, 0));
}

std::string doubt_text(melt::Causes const& causes) {
  if (causes.doubts.empty())
    return "No deviation is known of anything: give KEY_sd beside what you measured.";
  std::vector<std::string> most;
  for (melt::Doubt const& doubt : causes.doubts) {
    if (most.size() == 3) break;
    most.push_back(fmt::format("{} ({} mm³)", doubt.key, plus_minus(doubt.run_on_sd_mm3, 0)));
  }
  std::string text = fmt::format("Most of the ± comes from {}.", fmt::join(most, ", "));
  if (causes.run_on_mm3.sd > large_share * causes.run_on_mm3.value)
    text += " So large a ± is rough itself.";
  return text;
}

std::string leak_text(melt::BackLeak const& leak) {
  if (leak.mm3_s)
    return fmt::format("Leak back past the screw, by the metering formula: {} mm³/s.",
                       plus_minus(*leak.mm3_s, 0));
  return fmt::format(
      "Leak back past the screw: no figure, as the metering formula does not hold "
      "here: {}.",
      fmt::join(leak.because, "; "));
}

}  // namespace meltlag::report
