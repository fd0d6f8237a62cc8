// SPDX-License-Identifier: MIT
// The limits that a printer reports of itself when asked for its settings.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

namespace meltlag::profile {

using SomeAxes = std::array<std::optional<double>, 4>;  // x, y, z, e; what was not said stays empty

// What the lines said; the last one counts where a value is given twice. Speeds mm/s, accelerations
// mm/s².
struct SettingsReport {
  SomeAxes max_acceleration_mm_s2;                   // M201 X Y Z E
  SomeAxes max_speed_mm_s;                           // M203 X Y Z E
  std::optional<double> acceleration_mm_s2;          // M204 P, or S
  std::optional<double> travel_acceleration_mm_s2;   // M204 T, where P stands beside it
  std::optional<double> retract_acceleration_mm_s2;  // M204 R
  SomeAxes corner_jump_mm_s;                         // M205 X Y Z E
  std::optional<double> corner_rounding_mm;          // M205 J
};

// Reads M201, M203, M204 and M205 wherever they stand in a line ("echo:  M203 X500.00 Y500.00
// Z12.00 E120.00"); all else is ignored. `name` is what errors call the text. Throws Error with
// its place at a value that is no positive number, and where no such line is found at all.
[[nodiscard]] SettingsReport read_settings_report(std::string_view text, std::string const& name);

}  // namespace meltlag::profile
