// SPDX-License-Identifier: MIT
#include "compare_scan.hpp"

#include <fmt/format.h>

#include <cmath>

#include "meltlag/report/table.hpp"
#include "meltlag/scan/widths.hpp"

namespace meltlag::cli {

CompareScan scan_for_comparison(CompareScanRequest const& request) {
  constexpr double alike_mm = 0.5;     // errors of single places are alike over this length
  constexpr double common_mm = 0.015;  // light, threshold: tests/reference
  scan::ScanResult const result = scan::scan_picture(request.file,
                                                     request.picture,
                                                     {.piece = scan::Piece::any,
                                                      .nozzle_mm = request.nozzle_mm,
                                                      .bar_x_mm = request.bar_x_mm,
                                                      .bar_y_mm = request.bar_y_mm});
  CompareScan out;
  for (scan::MeanWidth const& mean : scan::mean_widths(result, request.every_mm)) {
    out.rows.push_back({.value = mean.width_mm,
                        .line = mean.line,
                        .to_line = mean.line,
                        .at_mm = mean.at_mm,
                        .place = {.file = request.picture}});
  }
  double const single_mm =
      result.scatter_mm / std::sqrt(std::max(1.0, request.every_mm / alike_mm));
  out.width_sd_mm = std::hypot(single_mm, common_mm);
  out.remark = fmt::format(
      "{} of the beads that lie apart could be read, {} widths; the piece lies {}, turned by "
      "{:.1f}°.",
      report::percent(result.read_share),
      out.rows.size(),
      result.face_down ? "face down" : "face up",
      result.turn_deg);
  return out;
}

}  // namespace meltlag::cli
