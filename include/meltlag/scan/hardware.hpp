// SPDX-License-Identifier: MIT
// A picture of the hardware piece (its form for pictures) → blob and gap of each bead.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/scan/widths.hpp"

namespace meltlag::scan {

struct HardwareStop {
  int stop = 0;  // as the file numbers its beads
  double flow_mm3_s = 0;
  double bead_mm = 0;  // width in the bead's later half; 0: it cannot be read, nor what follows
  // Of plastic around the stop, beyond a bead of that width that ends there with a round end. Below
  // zero where the bead thins out before it.
  std::optional<double> blob_mm2 = {};
  // From the start to where the bead is half as wide as in its middle.
  std::optional<double> gap_mm = {};
};

struct HardwareScan {
  std::vector<HardwareStop> stops;  // in the file's order
  double layer_height_mm = 0;
  double pixel_mm = 0;
  bool face_down = false;
  double turn_deg = 0;
};

// options.piece is not used. Throws Error naming the file at fault: as scan_picture() does, and
// where the file is no hardware piece in the form for pictures.
[[nodiscard]] HardwareScan scan_hardware(std::string const& gcode_path,
                                         std::string const& picture_path,
                                         ScanOptions const& options);

}  // namespace meltlag::scan
