// SPDX-License-Identifier: MIT
// One job with the part twice, side by side: the left one is as sliced with its flow set right, the
// right one is adapted. The file is cut into layers; each layer is printed once at each place, the
// order alternating. Between two copies stand lines that bring head, feed, E register and retract
// back to where the copy's own lines expect them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "meltlag/adapt/adapt_options.hpp"
#include "meltlag/base/diagnostic.hpp"
#include "meltlag/judge/differences.hpp"

namespace meltlag::adapt {

struct SideBySideOptions {
  double slicer_diameter_mm;
  bool g91_covers_e = true;
  double delivered_factor = 1;
  double gap_mm = 5;    // between the two
  double bed_x_mm = 0;  // 0: not known, nothing is checked
};

struct SideBySideJob : judge::CopiedJob {
  std::string text;            // both copies as sliced
  double left_flow_share = 1;  // of E as sliced, what the left copy has to get
  // The left copy and what goes with it: only its flow is set right when the job is adapted.
  std::vector<LineRange> flow_alone;
  double x_from_mm = 0, x_to_mm = 0;  // of both together
  std::int32_t layers = 0;
};

// The file in memory, at most most_job_bytes. Throws Error for what cannot be put side by side:
// layers that go down again or climb while printing, relative coordinates, line numbers, shifted
// origins, several tools, and more width than the bed has.
[[nodiscard]] SideBySideJob side_by_side(std::string const& path,
                                         SideBySideOptions const& options,
                                         Notices& notices);
inline constexpr std::size_t most_job_bytes = 8u << 20;

}  // namespace meltlag::adapt
