// SPDX-License-Identifier: MIT
// Moves of E alone whose amount is ours: they fill the time that the move took as sliced.
#pragma once

#include "record.hpp"

namespace meltlag::adapt {

// The farthest that E can go, from rest to rest, in the time of the stroke as planned, mm.
[[nodiscard]] double longest_stroke(Record const& record);

// Decides that E goes `e_mm` (> 0 forward): sets `stroke` and `stroke_e_mm`, the latter away from 0
// as far as the corners at both ends need. The time is that of the plan, or less where E cannot be
// so slow without the head slowing down for it.
void set_stroke(Record& record, double e_mm);

}  // namespace meltlag::adapt
