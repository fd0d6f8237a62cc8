// SPDX-License-Identifier: MIT
// How finely E is written, so that no bead loses anything that could be seen.
#pragma once

#include "meltlag/gcode/move.hpp"
#include "planned_move.hpp"

namespace meltlag::adapt {

inline constexpr int fewest_e_decimals = 5;
inline constexpr int most_e_decimals = 9;
// The E of a bead is rounded by less than this share of it, both its ends together.
inline constexpr double bead_rounding_share = 1e-3;

// The E of a bead as a word, in file units, as sliced or with its flow set right, whichever is
// less; 0 where the move makes none.
[[nodiscard]] double bead_word(PlannedMove const& planned);

// So many decimals that rounding one word to them takes half of bead_rounding_share from a bead of
// that E; 0 … most_e_decimals.
[[nodiscard]] int decimals_for_bead(double bead_word);

// What rounding changes in the E of a piece of the move at the most, mm of E.
[[nodiscard]] double e_rounding_mm(gcode::Move const& move);

// How far apart the numbers of single precision lie at `count` (24 bits: IEEE 754 binary32).
[[nodiscard]] double single_precision_step(double count);

}  // namespace meltlag::adapt
