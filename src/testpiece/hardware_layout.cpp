// SPDX-License-Identifier: MIT
#include "hardware_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr double stagger_mm = 4;      // of every other row
constexpr double group_gap_mm = 1.5;  // more between groups of rows
constexpr double setback_mm = 6;      // a lead-in begins so far from where the last one left a blob
constexpr double front_mm = 4;        // to the first row; half a number and room
constexpr double blob_room_mm = 3.5;

// Of the form for pictures: the disc of its page holds it with room to lie a little aside.
constexpr double picture_width_mm = 117, picture_pitch_mm = 4.2, picture_growth_mm = 0.045;
constexpr double upright_mm = 5;            // of the bead across all rows, from their left ends
constexpr double picture_way_back_mm = 42;  // as far as in the form for calipers

double shift_mm(int row) { return row % 2 == 0 ? 0 : stagger_mm; }

}  // namespace

double HardwareLayout::y_mm(int row) const {
  if (for_picture) return first_y_mm + row * pitch_mm + row * (row - 1) / 2.0 * pitch_growth_mm;
  return first_y_mm + row * pitch_mm + row / rows_a_group * group_gap_mm;
}

double HardwareLayout::behind_y_mm(int row) const {
  return for_picture ? (y_mm(row) + y_mm(row + 1)) / 2 : y_mm(row) + pitch_mm / 2;
}

double HardwareLayout::start_x_mm(int row) const {
  return first_x_mm + (for_picture ? 0 : shift_mm(row));
}

double HardwareLayout::lead_in_begin_x_mm(int row) const {
  return for_picture ? left_x_mm : lead_in_end_x_mm(row) - setback_mm;
}

double HardwareLayout::lead_in_turn_x_mm(int row) const {
  return left_x_mm + (for_picture ? 0 : shift_mm(row));
}

double HardwareLayout::way_back_x_mm(int row) const {
  return for_picture ? lead_in_end_x_mm(row) - picture_way_back_mm : lead_in_turn_x_mm(row);
}

double HardwareLayout::lead_in_y_mm(int row) const {
  return for_picture ? behind_y_mm(row) : y_mm(row);
}

// Midway between the last stop of a lead-in and the first start.
double HardwareLayout::spine_x_mm() const { return (lead_in_end_x_mm(1) + start_x_mm(0)) / 2; }

double HardwareLayout::lead_in_mm() const {
  if (for_picture) return lead_in_end_x_mm(0) - left_x_mm;
  return lead_in_begin_x_mm(0) - left_x_mm + pitch_mm / 2 + lead_in_end_x_mm(0) - left_x_mm;
}

HardwareLayout lay_out_hardware(PieceOptions const& options, double purge_mm3, Bead const& bead) {
  PieceOptions without_turns = options;
  without_turns.e_mm_per_turn.reset();
  HardwareLayout layout{};
  layout.common = lay_out(without_turns, purge_mm3, bead.section_mm2);
  Box const& square = layout.common.square;
  double const w = bead.width_mm;
  layout.thin_width_mm = std::min(0.7 * w, 0.9);
  double const half_mm = layout.thin_width_mm / 2;
  layout.digits = {.width_mm = 3, .height_mm = 5, .gap_mm = 2};
  layout.digits_x_mm = square.low_x_mm + half_mm + 0.3;
  double const digits_mm = layout.digits.width_mm + layout.digits.gap_mm;  // 13, 17 and 21
  layout.left_x_mm = layout.digits_x_mm + digits_mm + half_mm + 0.8 + w / 2;
  layout.first_x_mm = square.high_x_mm - w / 2 - blob_room_mm - stagger_mm - hardware_bead_mm;
  layout.first_y_mm = square.low_y_mm + front_mm;
  layout.top_y_mm = square.high_y_mm - w / 2 - 0.1;
  double const gaps_mm = (hardware_rows / rows_a_group - 1) * group_gap_mm;
  double const last_behind_mm = layout.top_y_mm - w - 0.8;
  layout.pitch_mm = (last_behind_mm - layout.first_y_mm - gaps_mm) / (hardware_rows - 0.5);
  layout.common.return_x_mm = layout.digits_x_mm + 4;  // where the purge leads to, beside the 1
  layout.common.ruler_y_mm = square.low_y_mm + 0.5;
  layout.common.pitch_mm = 5 * w;  // no walls here whose swollen beads could touch
  return layout;
}

HardwareLayout lay_out_hardware_for_picture(PieceOptions const& options,
                                            double purge_mm3,
                                            Bead const& bead) {
  PieceOptions without_turns = options;
  without_turns.e_mm_per_turn.reset();
  HardwareLayout layout{};
  layout.for_picture = true;
  layout.common = lay_out(without_turns, purge_mm3, bead.section_mm2);
  layout.pitch_mm = picture_pitch_mm;
  layout.pitch_growth_mm = picture_growth_mm;
  double const w = bead.width_mm, wide_mm = picture_width_mm + w;
  double const high_mm = layout.behind_y_mm(hardware_rows - 1) + w;  // first_y_mm is 0 so far
  double const purged_mm = layout.common.purge_last_y_mm + w / 2 + 3;
  double const low_x_mm = (options.bed_x_mm - wide_mm) / 2;
  double const low_y_mm = std::max((options.bed_y_mm - high_mm) / 2, purged_mm);
  if (low_x_mm < options.margin_mm || low_y_mm + high_mm > options.bed_y_mm - options.margin_mm)
    throw Error(fmt::format("the hardware piece for a picture does not fit: it needs {:.0f} mm × "
                            "{:.0f} mm behind its purge lines",
                            std::ceil(wide_mm),
                            std::ceil(high_mm)),
                {},
                "Give the bed's true size and a smaller margin, or print the form for calipers.");
  layout.common.square = {low_x_mm, low_y_mm, low_x_mm + wide_mm, low_y_mm + high_mm};
  layout.upright_x_mm = low_x_mm + w / 2;
  layout.left_x_mm = layout.upright_x_mm + upright_mm;
  layout.first_x_mm = low_x_mm + wide_mm - w / 2 - hardware_bead_mm;
  layout.first_y_mm = low_y_mm + w / 2;
  layout.top_y_mm = layout.behind_y_mm(hardware_rows - 1);
  layout.common.return_x_mm = layout.upright_x_mm;
  layout.common.ruler_y_mm = layout.first_y_mm;
  layout.common.pitch_mm = 5 * w;
  return layout;
}

}  // namespace meltlag::testpiece::piece
