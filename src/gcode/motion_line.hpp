// SPDX-License-Identifier: MIT
// Moves: G0–G3, bare axis words, bare G10 and G11.
#pragma once

#include "modal.hpp"

namespace meltlag::gcode {

// Whether a move is the only command on its line; only then may the line be rewritten.
enum class Company : std::uint8_t { alone, shared };

// Sends the move that G0–G3 (`modal.motion`) with these words makes, and keeps what stays in force.
// Throws Error for a word that cannot be read and a coordinate beyond 1e6 mm.
void make_move(Line const& line, Words words, Company company);

// Bare G10: the screw goes back, once until the next G11. Bare G11: it comes forward again.
void retract(Line const& line, Company company);
void recover(Line const& line, Company company);

}  // namespace meltlag::gcode
