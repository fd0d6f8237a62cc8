// SPDX-License-Identifier: MIT
// Whether a file had better be sliced again: what a plain limit on all print speeds would bring,
// and how many beads are too short for the lag.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "meltlag/adapt/pass.hpp"

namespace meltlag::adapt {

// All print speeds limited, the rest as it is; adapted without pace.
struct SpeedLimitTrial {
  double most_print_mm_s = 0;
  double added_s = 0;  // beyond the file as sliced; below 0 where it is sooner done
  double misplaced_share = 0;
};

struct Advice {
  double as_sliced_s = 0;         // planned time
  double path_s = 0;              // adapted, without pace
  double misplaced_share = 0;     // the same
  double feed_limited_share = 0;  // of the time: the screw feeds all it can
  std::int64_t beads = 0;         // runs of printing moves between stops and travels
  std::int64_t short_beads = 0;   // those that take less time than the lag at their flow
  std::int64_t retracts = 0;      // moves of E alone that draw back
  double lag_s = 0;               // at the mean flow of all beads
  double mean_flow_mm3_s = 0;
  std::vector<SpeedLimitTrial> trials;  // from fast to slow
  // The trial with the best use of its time, and what pace makes of the same time; beyond the file
  // as sliced too.
  std::size_t chosen = 0;
  double paced_added_s = 0, paced_share = 0;

  [[nodiscard]] bool better_sliced_again() const;
};

// Makes a few passes over the file.
[[nodiscard]] Advice advise(std::string const& path, AdaptOptions const& options);

}  // namespace meltlag::adapt
