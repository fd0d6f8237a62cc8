// SPDX-License-Identifier: MIT
// Where the beads of the hardware piece lie. Seen from above, front below, one row of 24:
//
//    ╔═══════════ lead-in ══════        │▷ tooth
//    ╚══════════════════════════ stop   │  start ═══════════ bead ═══════════ stop
//    number of each fourth row          the comb's spine
//
// Every other row lies further to the right, so that blobs stay clear of each other.
#pragma once

#include "digits.hpp"
#include "test_piece_layout.hpp"
#include "test_piece_settings.hpp"

namespace meltlag::testpiece::piece {

inline constexpr int hardware_rows = 24, rows_a_group = 4;
inline constexpr double hardware_bead_mm = 30;
inline constexpr double free_mm = 14;  // between a lead-in and its bead

struct HardwareLayout {
  Layout common;  // square and purge lines
  double first_y_mm, pitch_mm;
  double top_y_mm;    // of the bead that leads into the comb
  double first_x_mm;  // of the start in rows 0, 2, …
  double left_x_mm;   // of the lead-in's turn in those rows
  double digits_x_mm;
  DigitSize digits;
  double thin_width_mm;

  // Rows from 0, from the front.
  [[nodiscard]] double y_mm(int row) const;
  [[nodiscard]] double start_x_mm(int row) const;
  [[nodiscard]] double stop_x_mm(int row) const { return start_x_mm(row) + hardware_bead_mm; }
  // The lead-in: begins beyond the row, turns at the left, ends in the row.
  [[nodiscard]] double lead_in_begin_x_mm(int row) const;
  [[nodiscard]] double lead_in_turn_x_mm(int row) const;
  [[nodiscard]] double lead_in_end_x_mm(int row) const { return start_x_mm(row) - free_mm; }
  [[nodiscard]] double behind_y_mm(int row) const { return y_mm(row) + pitch_mm / 2; }
  [[nodiscard]] double spine_x_mm() const;
  [[nodiscard]] double lead_in_mm() const;
};

// REQUIRES: the bead's size is checked. Throws Error where the piece does not fit the bed.
[[nodiscard]] HardwareLayout lay_out_hardware(PieceOptions const& options,
                                              double purge_mm3,
                                              Bead const& bead);

}  // namespace meltlag::testpiece::piece
