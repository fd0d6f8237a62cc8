// SPDX-License-Identifier: MIT
// Where things stand on the bed. Seen from above, front below:
//
//    ┌──────── the frame that holds whole turns of the screw (where asked for) ───────┐
//    │  ┌─────────────┐  top                                                          │
//    │  │ return  15  ╘═════════════ leg 15, −X ═════════════╗                        │
//    │  │ leg     14  ╔═════════════ leg 14, +X ═════════════╝                        │
//    │  │         …   …                                                               │
//    │  │          1  ╔═════════════ leg 1, −X ══════════════╗                        │
//    │  └─────────────╘═════════════ leg 0, +X, lead-in ═════╝                        │
//    │     ─┬─┬─┬─┬─ ruler                                                            │
//    └────────────────────────────────────────────────────────────────────────────────┘
//    ───────── purge lines
#pragma once

#include <optional>

#include "digits.hpp"
#include "meltlag/testpiece/drawn.hpp"
#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::testpiece::piece {

inline constexpr int leg_count = 15;  // that count; leg 0 belongs to the lead-in
inline constexpr double purge_pitch_mm = 4;

struct Box {
  double low_x_mm, low_y_mm, high_x_mm, high_y_mm;
};

struct Layout {
  Box square;                    // that the piece stays within
  std::optional<Box> frame;      // middle line of the bead for the screw's turns
  double return_x_mm;            // of the leg that goes back to the beginning
  double left_x_mm, right_x_mm;  // ends of the legs
  double first_y_mm;             // of leg 0
  double pitch_mm;
  double top_y_mm;  // of the link from leg 15 to the return leg
  double digits_x_mm;
  DigitSize digits;
  double thin_width_mm;  // of the beads of ruler and digits
  double ruler_y_mm;     // its marks point to the front
  double ruler_length_mm;
  int purge_rows;
  double purge_row_mm;     // length of each
  double purge_x_mm;       // left end
  double purge_last_y_mm;  // of the row nearest to the piece
  double purge_length_mm;  // with the links between rows

  [[nodiscard]] double leg_y_mm(int leg) const { return first_y_mm + leg * pitch_mm; }
};

// Greatest bead of the frame as a multiple of the nominal one, and the smallest.
inline constexpr double widest_turn_bead = 1.8, narrowest_turn_bead = 0.7;

// REQUIRES: the bead's size is checked. Throws Error where the piece does not fit the bed.
[[nodiscard]] Layout lay_out(PieceOptions const& options, double purge_mm3, double section_mm2);

}  // namespace meltlag::testpiece::piece
