// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>

#include "meltlag/gcode/move.hpp"

namespace meltlag::compare {

inline constexpr double least_purge_mm3 = 1;  // less is a restart extra

// E of moves that turn the screw alone, beyond what they repay of what was drawn back.
class PurgeCount {
 public:
  [[nodiscard]] double of(gcode::Move const& move) {
    debt_mm_ += std::max(0.0, -move.e_mm);
    if (move.kind != gcode::MoveKind::e_only || move.e_mm <= 0) return 0;
    double const repaid = std::min(debt_mm_, move.e_mm);
    debt_mm_ -= repaid;
    double const mm3 = move.volume_mm3 * (1 - repaid / move.e_mm);
    return mm3 > least_purge_mm3 ? mm3 : 0;
  }

 private:
  double debt_mm_ = 0;
};

}  // namespace meltlag::compare
