// SPDX-License-Identifier: MIT
// The hardware piece as its G-code has it: lead-ins and beads, each bead gone on with beyond its
// stop, so that a blob is seen whole.
#pragma once

#include <string>
#include <vector>

#include "trail.hpp"

namespace meltlag::scan {

struct HardwareSpan {
  int stop = 0;
  double flow_mm3_s = 0;
  std::size_t from = 0, stops = 0,
              to = 0;  // places: the bead's first, the first beyond it, the end
};

struct HardwareTrail {
  Trail trail;
  std::vector<HardwareSpan> beads;
};

// Throws Error where the file cannot be read or is no hardware piece in the form for pictures.
[[nodiscard]] HardwareTrail read_hardware_trail(std::string const& gcode_path);

}  // namespace meltlag::scan
