// SPDX-License-Identifier: MIT
// All places of a test piece that could be read.
#pragma once

#include <vector>

#include "meltlag/reading/reading.hpp"
#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::fit {

// A width at every millimetre of every wall except its ends.
[[nodiscard]] std::vector<reading::Reading> width_candidates(testpiece::TestPiece const& piece);
// Heights of all walls, places at a locked width, tails, gaps, widths after retracts and along the
// frame that shows the screw's turn; the fence's mass with a scale.
enum class Scale : std::uint8_t { none, at_hand };
[[nodiscard]] std::vector<reading::Reading> other_candidates(testpiece::TestPiece const& piece,
                                                             double bead_width_mm,
                                                             Scale scale);

}  // namespace meltlag::fit
