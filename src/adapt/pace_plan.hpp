// SPDX-License-Identifier: MIT
// The printer's plan of a window whose stretches have speeds of their own.
#pragma once

#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "planned_move.hpp"

namespace meltlag::adapt {

// How the head comes out of what is already decided.
struct PaceEntry {
  double speed_mm_s = 0;
  double cap_mm_s = std::numeric_limits<double>::infinity();    // of the stretch before
  double reach_mm_s = std::numeric_limits<double>::infinity();  // what it could reach at its end
};

// Stretches of all moves in their order. Those that stay as they are count as they are driven
// as well, but have no cap.
[[nodiscard]] std::size_t count_stretches(std::span<PlannedMove* const> moves);

// Plans the moves with one cap for each of their stretches: fills in `paced`. Caps that the speed
// at the beginning does not allow are changed. Returns the time, dwells not counted.
double plan_paced(std::span<PlannedMove* const> moves,
                  std::optional<PaceEntry> const& entry,
                  std::vector<double>& caps_mm_s);

// The state after the first `kept` moves; nothing where none of them moves.
[[nodiscard]] std::optional<PaceEntry> pace_entry_behind(std::span<PlannedMove* const> moves,
                                                         std::size_t kept);

}  // namespace meltlag::adapt
