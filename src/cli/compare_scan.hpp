// SPDX-License-Identifier: MIT
// Rows for `compare` out of a picture.
#pragma once

#include <string>
#include <vector>

#include "meltlag/compare/measured.hpp"

namespace meltlag::cli {

struct CompareScan {
  std::vector<compare::MeasuredRow> rows;  // widths, along the path
  std::string remark;                      // how much was read, in a sentence
  double width_sd_mm = 0;                  // of a row
};

struct CompareScanRequest {
  std::string file, picture;
  double every_mm = 2;  // of bead, a row
  double nozzle_mm = 0.9, bar_x_mm = 150, bar_y_mm = 150;
};

// Throws Error as scan::scan_picture() does.
[[nodiscard]] CompareScan scan_for_comparison(CompareScanRequest const& request);

}  // namespace meltlag::cli
