// SPDX-License-Identifier: MIT
#include "calibrate_hardware_scan.hpp"

#include <fmt/format.h>

#include "meltlag/base/error.hpp"
#include "meltlag/scan/hardware.hpp"

namespace meltlag::cli {
namespace {

// "3, 7 and 9 of 24 blobs"
std::string without(std::vector<int> const& stops, std::size_t all, char const* what) {
  std::string out;
  for (std::size_t i = 0; i < stops.size(); ++i)
    out += fmt::format("{}{}", i == 0 ? "" : i + 1 == stops.size() ? " and " : ", ", stops[i]);
  return fmt::format("{} of {} {} cannot be read: beads {}", stops.size(), all, what, out);
}

}  // namespace

fit::HardwareSheet scan_hardware_print(HardwareScanRequest const& request,
                                       std::string const& picture) {
  scan::HardwareScan const scan = scan::scan_hardware(
      request.file,
      picture,
      {.nozzle_mm = request.nozzle_mm, .bar_x_mm = request.bar_x_mm, .bar_y_mm = request.bar_y_mm});
  fit::HardwareSheet out{.name = picture};
  double const height_mm = request.layer_height_mm.value_or(scan.layer_height_mm);
  std::vector<int> no_blob, no_gap;
  for (scan::HardwareStop const& stop : scan.stops) {
    fit::HardwareReading reading{
        .stop = stop.stop, .flow_mm3_s = stop.flow_mm3_s, .gap_mm = stop.gap_mm};
    if (stop.blob_mm2) reading.blob_mm3 = *stop.blob_mm2 * height_mm;
    if (!reading.blob_mm3) no_blob.push_back(stop.stop);
    if (!reading.gap_mm) no_gap.push_back(stop.stop);
    if (reading.blob_mm3 || reading.gap_mm) out.readings.push_back(reading);
  }
  std::size_t const all = scan.stops.size();
  if (no_blob.size() + 2 > all && no_gap.size() + 2 > all)
    throw Error("hardly a blob or a gap can be read on the picture",
                {.file = picture},
                "Take a sharp picture in even light on a background that the plastic is not.");
  for (auto const& [stops, what] : {std::pair{&no_blob, "blobs"}, std::pair{&no_gap, "gaps"}})
    if (!stops->empty()) out.remarks.push_back(picture + ": " + without(*stops, all, what));
  return out;
}

}  // namespace meltlag::cli
