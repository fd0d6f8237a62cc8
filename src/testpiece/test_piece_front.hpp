// SPDX-License-Identifier: MIT
// What is printed before the fence: purge lines, the frame for the screw's turns, ruler, numbers.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"
#include "test_piece_layout.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece::piece {

inline constexpr double safe_gap_mm = 2;  // over what is finished

// How the frame is made: as many laps, each of them `turns_per_layer` turns.
struct TurnPlan {
  double e_mm_per_mm;
  double turns_per_layer;
  int laps;
};
[[nodiscard]] TurnPlan plan_turns(Layout const& layout,
                                  Bead const& bead,
                                  double e_mm_per_turn,
                                  std::vector<std::string>& remarks);

// From an unknown place to the end of the purge lines, then on to where the piece begins.
void print_purge(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead);

// Continuous from the purge on; ends above the frame.
[[nodiscard]] TurnBead print_frame(Writer& writer,
                                   Layout const& layout,
                                   Speeds const& speeds,
                                   Bead const& bead,
                                   TurnPlan const& plan);

// Twice over, so that the second pass covers what the first one may lack.
void print_ruler(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead);

// Quick hops from stroke to stroke: too short for the outflow to cease.
void print_numbers(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead);

}  // namespace meltlag::testpiece::piece
