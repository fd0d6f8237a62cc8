// SPDX-License-Identifier: MIT
// The corners between a move of the head and one of E alone: there the printer compares E's speeds
// on both sides, so that how fast it goes depends on the rates that were chosen.
#pragma once

#include <span>
#include <vector>

#include "cutter.hpp"
#include "planned_move.hpp"

namespace meltlag::adapt {

// Beside a move of E alone that stays as written: bounds the rates so that the printer takes the
// corner no slower than as sliced.
void keep_stop_corners(std::span<PlannedMove* const> moves);

// Sets `entry_limit_mm_s` at these corners as the printer will see them with `rates`, and bounds
// the rates next to them so that the printer takes none faster. False where none changes.
bool set_stop_corners(std::span<PlannedMove* const> moves,
                      std::vector<CutRange> const& ranges,
                      std::vector<double> const& rates);

}  // namespace meltlag::adapt
