// SPDX-License-Identifier: MIT
// Moves of E alone whose amount is ours, in at most the time that the move took as sliced.
#pragma once

#include "planned_move.hpp"

namespace meltlag::adapt {

// The farthest that E can go, from rest to rest, in the time of the stroke as planned, mm.
[[nodiscard]] double longest_stroke(PlannedMove const& planned);

// Lets E go `e_mm` (> 0 forward) as fast as it can: what leaves meanwhile lies in one place; slower
// where the stroke is to fill its time. Sets
// `speed` and `stroke_e_mm`, the latter away from 0 as far as the corners at both ends need.
void set_stroke(PlannedMove& planned, double e_mm);

}  // namespace meltlag::adapt
