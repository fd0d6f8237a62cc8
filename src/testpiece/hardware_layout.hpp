// SPDX-License-Identifier: MIT
// Where the beads of the hardware piece lie. Seen from above, front below, one row of 24:
//
//    ╔═══════════ lead-in ══════        │▷ tooth
//    ╚══════════════════════════ stop   │  start ═══════════ bead ═══════════ stop
//    number of each fourth row          the comb's spine
//
// Every other row lies further to the right, so that blobs stay clear of each other.
//
// The form that a picture is taken of has neither numbers nor comb. A lead-in is one straight bead,
// half a pitch behind its row, so that strands lie further apart; rows lie the further apart the
// further behind, and lead-ins are longer than beads: no turn and no mirror image brings all of
// them together. A bead upright at the left tells where the rows begin.
//
//  ║ ═══════════════════ lead-in ═════════════════ stop
//  ║                                                     start ═══════════ bead ═══════════ stop
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
  double top_y_mm;    // of the bead that leads into the comb; the upright's end
  double first_x_mm;  // of the start in rows 0, 2, …
  double left_x_mm;   // of the lead-in's turn in those rows
  double digits_x_mm;
  DigitSize digits;
  double thin_width_mm;
  bool for_picture;
  double upright_x_mm;     // of the bead across all rows of the form for pictures
  double pitch_growth_mm;  // from one pitch to the next

  // Rows from 0, from the front.
  [[nodiscard]] double y_mm(int row) const;
  [[nodiscard]] double start_x_mm(int row) const;
  [[nodiscard]] double stop_x_mm(int row) const { return start_x_mm(row) + hardware_bead_mm; }
  // The lead-in: begins beyond the row, turns at the left, ends in the row.
  [[nodiscard]] double lead_in_begin_x_mm(int row) const;
  [[nodiscard]] double lead_in_turn_x_mm(int row) const;
  [[nodiscard]] double lead_in_end_x_mm(int row) const { return start_x_mm(row) - free_mm; }
  [[nodiscard]] double lead_in_y_mm(int row) const;   // where it ends
  [[nodiscard]] double way_back_x_mm(int row) const;  // how far the head goes before the start
  [[nodiscard]] double behind_y_mm(int row) const;
  [[nodiscard]] double spine_x_mm() const;
  [[nodiscard]] double lead_in_mm() const;
};

// REQUIRES: the bead's size is checked. Throw Error where the piece does not fit the bed.
[[nodiscard]] HardwareLayout lay_out_hardware(PieceOptions const& options,
                                              double purge_mm3,
                                              Bead const& bead);
[[nodiscard]] HardwareLayout lay_out_hardware_for_picture(PieceOptions const& options,
                                                          double purge_mm3,
                                                          Bead const& bead);

}  // namespace meltlag::testpiece::piece
