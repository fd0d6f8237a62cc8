// SPDX-License-Identifier: MIT
// What was measured on prints of the hardware piece, out of a picture of each.
#pragma once

#include <string>
#include <vector>

#include "meltlag/fit/hardware.hpp"

namespace meltlag::cli {

struct HardwareScanRequest {
  std::string file;  // the G-code that was printed
  double nozzle_mm = 0.9, bar_x_mm = 150, bar_y_mm = 150;
  std::optional<double> layer_height_mm = {};  // else the file's
};

// Throws Error as scan::scan_hardware() does, and where fewer than two stops and starts can be
// read.
[[nodiscard]] fit::HardwareSheet scan_hardware_print(HardwareScanRequest const& request,
                                                     std::string const& picture);

}  // namespace meltlag::cli
