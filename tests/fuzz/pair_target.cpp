// SPDX-License-Identifier: MIT
// The part twice on one bed: whatever job comes of it goes the whole road.
#include <algorithm>

#include "meltlag/adapt/side_by_side.hpp"
#include "road.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes) {
  static Files const files;
  if (bytes.empty()) return;
  files.write_original(bytes.substr(1));
  Notices notices;
  adapt::SideBySideJob const job =
      adapt::side_by_side(files.original, {.slicer_diameter_mm = 1.75}, notices);
  promise(std::ranges::count(job.text, '\n') == static_cast<std::ptrdiff_t>(job.lines.size()),
          "the lines of the job are not counted");
  promise(std::isfinite(job.offset_mm) && job.x_to_mm >= job.x_from_mm, "the copies are nowhere");
  files.write_original(job.text);
  auto options = options_of(static_cast<unsigned char>(bytes.front()));
  options.flow_alone = job.flow_alone;
  walk(files, options);
}

}  // namespace meltlag::fuzz
