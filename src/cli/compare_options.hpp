// SPDX-License-Identifier: MIT
// What people type after `compare`.
#pragma once

#include <optional>
#include <string>

#include "compare_scan.hpp"
#include "meltlag/compare/comparison.hpp"
#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

struct CompareCommandOptions {
  std::string file, sheet, profile, original, csv, report, output, ticks, mass, took, scan;
  bool json = false, force = false;
  std::optional<double> layer_height_mm, density_g_cm3, clock_offset_s;
  compare::Tools tools;
  CompareScanRequest picture;  // of --scan
};

// "4.32g", "4,32 g" or "4.32": grams. Throws Error otherwise.
[[nodiscard]] double grams_of(std::string const& text);
// "16:05", "1:16:05", "965 s" or "965": seconds. Of two fields, minutes:seconds or hours:minutes,
// whichever is nearer to what was planned. Throws Error otherwise.
[[nodiscard]] double seconds_of(std::string const& text, double planned_s);

[[nodiscard]] compare::CompareOptions compare_options(CompareCommandOptions const& request,
                                                      profile::Profile const& profile);

}  // namespace meltlag::cli
