// SPDX-License-Identifier: MIT
// The parts of a window from which its moves of E alone are felt.
#pragma once

#include <span>
#include <vector>

#include "planned_move.hpp"

namespace meltlag::adapt {

// A move of E alone that is driven.
[[nodiscard]] bool is_stop(PlannedMove const& record);

struct RecordRange {
  std::size_t begin, end;
};

// In order, without overlap: of each stop what is driven within `reach_s` before it and after it.
[[nodiscard]] std::vector<RecordRange> around_stops(std::span<PlannedMove* const> records,
                                                    double reach_s);

}  // namespace meltlag::adapt
