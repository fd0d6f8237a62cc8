// SPDX-License-Identifier: MIT
// What the slicer's own settings could reach at best, for whoever will not post-process: the flow
// setting, one retract length and one extra on restart for all stops.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

#include "meltlag/judge/judge.hpp"

namespace meltlag::judge {

// As the file would say them: mm of E.
struct StopSetting {
  double retract_mm = 0;  // drawn back at a stop, in all
  double extra_mm = 0;    // given again beyond that
};

struct SlicerSettings {
  double flow_share = 1;   // of the flow setting as it is: 1 / delivered factor
  std::int64_t stops = 0;  // with a retract and its recovery between beads
  StopSetting now;         // the medians of the file as sliced
  StopSetting best;        // those that misplace least, once the flow is set right
  bool found = false;      // `best` is better than the stops of the file with its flow set right
  double run_on_mm = 0;    // of E: what runs on after a stop out of the mean flow
  // Judged on the lines looked at: the whole file, or its middle where it is large.
  std::int64_t first_line = 0, last_line = 0;
  bool whole = true;
  PrintMetrics as_sliced, flow_set_right, advised;
};

// `best` is a multiple of 0.01 mm, found by prediction: a coarse grid, then steps halved down to
// that. A percent more time has to save a hundredth of a percent of the plastic. A retract stays
// below what is taken for an unload, an extra below what is taken for a purge. Of a file with more
// moves than `most_moves` so many in its middle are looked at. Throws Error for what cannot be
// read.
[[nodiscard]] SlicerSettings best_slicer_settings(std::string const& path,
                                                  JudgeOptions const& options,
                                                  std::size_t most_moves = 20'000);

}  // namespace meltlag::judge
