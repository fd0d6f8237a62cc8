// SPDX-License-Identifier: MIT
// Blobs and gaps of the hardware piece as they were measured: mean and scatter, no lag law.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "meltlag/base/sheet.hpp"

namespace meltlag::fit {

struct BlobSize {
  double blob_mm, bead_mm, layer_height_mm;
};

// What a stop left too much, mm³: a disc as wide as the blob and as high as the layer, less what a
// bead that ends there with a round end covers of it,
//   h·[π·D²/4 − (b/4·√(D² − b²) + D²/4·asin(b/D)) − π·b²/8].
// That the blob is as flat as the layer is an assumption; a heap that stands higher holds more. It
// is the same for every build. Negative, by the same formula with both swapped, where the blob is
// narrower than the bead.
[[nodiscard]] double blob_mm3(BlobSize const& size);
// Diameter of the ball of that volume, mm; 0 for none.
[[nodiscard]] double ball_mm(double volume_mm3);

struct HardwareReading {
  int stop = 0;
  double flow_mm3_s = 0;
  std::optional<double> blob_mm3 = {}, gap_mm = {};
};

// What was measured on one print.
struct HardwareSheet {
  std::string name;
  std::optional<double> retract_mm = {};       // as a note says ("retract 1 mm")
  std::vector<HardwareReading> readings = {};  // rows with neither blob nor gap are left out
  std::vector<std::string> remarks = {};
};

// `layer_height_mm` overrules what the notes say ("layer 0.300 mm"). Throws Error where a cell
// cannot be read, a stop is given twice, a bead's width is missing beside a blob, no layer height
// is known, or fewer than two stops and starts were measured.
[[nodiscard]] HardwareSheet read_hardware_sheet(Sheet const& sheet,
                                                std::optional<double> layer_height_mm = {});

struct Spread {
  int count = 0;
  double mean = 0;
  double sd = 0;       // between stops; of all flows: within them
  double mean_sd = 0;  // of the mean
};

struct FlowSpread {
  double flow_mm3_s = 0;
  Spread blob_mm3 = {}, gap_mm = {};
};

// Over all flows the mean is that of the flows' means, so that an unread row shifts nothing.
struct HardwareSpread {
  std::vector<FlowSpread> flows = {};  // slowest first
  Spread blob_mm3 = {}, gap_mm = {};
};
[[nodiscard]] HardwareSpread spread_of(HardwareSheet const& sheet);

// What is measured, and how to get at it.
using Quantity = std::optional<double> HardwareReading::*;

// One value for each stop measured, about the common mean: what the flows make different is taken
// out, so that the scatter is that between like stops.
[[nodiscard]] std::vector<double> without_flow(HardwareSheet const& sheet, Quantity quantity);

// Whether both may be prints of one file: the same flows, the same retract where it is noted.
[[nodiscard]] bool same_file(HardwareSheet const& one, HardwareSheet const& other);

}  // namespace meltlag::fit
