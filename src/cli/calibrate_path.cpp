// SPDX-License-Identifier: MIT
#include "calibrate_path.hpp"

namespace meltlag::cli {

reading::PrintedPath printed_path(std::string const& file, profile::Profile const& profile) {
  Notices unused;
  return reading::read_path(gcode::LineSource(file),
                            {.slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                             .limits = profile.limits,
                             .g91_covers_e = profile.machine.g91_covers_e},
                            unused);
}

}  // namespace meltlag::cli
