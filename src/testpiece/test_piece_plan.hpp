// SPDX-License-Identifier: MIT
// Reads the test piece's G-code back, as a printer would, and checks it against what it claims.
#pragma once

#include <string>
#include <vector>

#include "meltlag/motion/planner.hpp"
#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::testpiece::piece {

struct Plan {
  std::vector<motion::TimedMove> moves;  // in the file's order
  double duration_s = 0;

  // The move of a line; null when it makes none.
  [[nodiscard]] motion::TimedMove const* of_line(std::int64_t line) const;
};

// Throws Error where the person's start or end code cannot be read.
[[nodiscard]] Plan plan(std::string const& gcode, PieceOptions const& options);

// Throws Error where a section's line does not mean what the section says, which only start code
// can bring about. Adds a remark where a section does not reach its speed, or changes it slowly.
void check_sections(TestPiece const& piece, Plan const& plan, std::vector<std::string>& remarks);

}  // namespace meltlag::testpiece::piece
