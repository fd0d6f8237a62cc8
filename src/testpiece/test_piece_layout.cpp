// SPDX-License-Identifier: MIT
#include "test_piece_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr double longest_mark_mm = 3.5;
constexpr double ruler_gap_mm = 3.2;  // to leg 0; the ruler is low, so nothing bumps into it
constexpr double largest_pitch_mm = 6;

struct Inner {
  double low_mm, high_mm;  // of middle lines, from the square's corner, alike in X and Y
};

// The nozzle passes beside the finished frame with room for its flank.
Inner inner_of(PieceOptions const& options, double frame_inset_mm) {
  double const w = options.bead_width_mm;
  double const inset_mm =
      options.e_mm_per_turn ? frame_inset_mm + std::max(5.0, 3 + 2 * w) : 0.6 * w + 0.4;
  return {inset_mm, side_mm - inset_mm};
}

void place_digits(PieceOptions const& options, Layout& layout) {
  double const w = options.bead_width_mm;
  layout.thin_width_mm = std::min(0.7 * w, 0.9);
  double const half_mm = layout.thin_width_mm / 2;
  layout.digits = {.width_mm = 2.4, .height_mm = 3.4, .gap_mm = 1.6};
  layout.digits_x_mm = layout.return_x_mm + 0.6 * w + half_mm + 1;
  double const widest_mm = layout.digits.gap_mm + layout.digits.width_mm;  // 10 … 15
  layout.left_x_mm = layout.digits_x_mm + widest_mm + half_mm + w + 0.6;
}

void place_fence(Inner const& inner, double bead_width_mm, Layout& layout) {
  double const x_mm = layout.square.low_x_mm, y_mm = layout.square.low_y_mm;
  layout.right_x_mm = x_mm + inner.high_mm;
  layout.ruler_y_mm = y_mm + inner.low_mm + longest_mark_mm;
  layout.first_y_mm = layout.ruler_y_mm + ruler_gap_mm;
  layout.top_y_mm = y_mm + inner.high_mm;
  double const room_for_last_number_mm =
      layout.digits.height_mm / 2 + layout.thin_width_mm / 2 + 0.6 * bead_width_mm + 0.7;
  layout.pitch_mm =
      std::min(largest_pitch_mm,
               (layout.top_y_mm - room_for_last_number_mm - layout.first_y_mm) / leg_count);
  layout.top_y_mm = layout.leg_y_mm(leg_count) + room_for_last_number_mm;
  double const length_mm = layout.right_x_mm - layout.left_x_mm;
  layout.ruler_length_mm = 5 * std::floor((length_mm - 2.5) / 5);
}

// Rows of the purge line before the piece: as many as it takes, all of one length.
void place_purge(PieceOptions const& options, double length_mm, double x_mm, Layout& layout) {
  double const span_mm = options.bed_x_mm - options.margin_mm - x_mm;
  layout.purge_rows = static_cast<int>(std::ceil(length_mm / span_mm));
  double const links_mm = (layout.purge_rows - 1) * purge_pitch_mm;
  layout.purge_row_mm = (length_mm - links_mm) / layout.purge_rows;
  layout.purge_x_mm = x_mm;
  layout.purge_length_mm = length_mm;
}

[[noreturn]] void fail_to_fit(PieceOptions const& options, double need_x_mm, double need_y_mm) {
  throw Error(
      fmt::format("the test piece does not fit: it needs {:.0f} mm × {:.0f} mm with its purge "
                  "lines in front of it, and a bed of {:.0f} mm × {:.0f} mm leaves {:.0f} mm × "
                  "{:.0f} mm within margins of {:.0f} mm",
                  std::ceil(need_x_mm),
                  std::ceil(need_y_mm),
                  options.bed_x_mm,
                  options.bed_y_mm,
                  options.bed_x_mm - 2 * options.margin_mm,
                  options.bed_y_mm - 2 * options.margin_mm,
                  options.margin_mm),
      {},
      "Give the bed's true size and a smaller margin, down to 0 mm where the bed is free of "
      "clamps.");
}

}  // namespace

double mark_mm(int place_mm) {
  if (place_mm % 50 == 0) return longest_mark_mm;
  return place_mm % 10 == 0 ? 2.5 : 1.5;
}

Layout lay_out(PieceOptions const& options, double purge_mm3, double section_mm2) {
  Layout layout{};
  double const w = options.bead_width_mm, margin_mm = options.margin_mm;
  double const frame_inset_mm = widest_turn_bead / 2 * w + 0.1;
  Inner const inner = inner_of(options, frame_inset_mm);
  double const free_x_mm = options.bed_x_mm - 2 * margin_mm;
  if (free_x_mm < side_mm) fail_to_fit(options, side_mm, side_mm);
  double const low_x_mm = (options.bed_x_mm - side_mm) / 2;
  double const purge_x_mm = low_x_mm + (options.e_mm_per_turn ? frame_inset_mm : inner.low_mm);
  place_purge(options, purge_mm3 / section_mm2, purge_x_mm, layout);

  double const strip_mm = w + (layout.purge_rows - 1) * purge_pitch_mm + 3;
  double const low_y_mm = std::max((options.bed_y_mm - side_mm) / 2, margin_mm + strip_mm);
  if (low_y_mm + side_mm > options.bed_y_mm - margin_mm + 1e-9) {
    fail_to_fit(options, side_mm, side_mm + strip_mm);
  }
  layout.purge_last_y_mm = margin_mm + w / 2 + (layout.purge_rows - 1) * purge_pitch_mm;
  layout.square = {low_x_mm, low_y_mm, low_x_mm + side_mm, low_y_mm + side_mm};
  if (options.e_mm_per_turn) {
    double const far_mm = side_mm - frame_inset_mm;
    layout.frame = Box{
        low_x_mm + frame_inset_mm, low_y_mm + frame_inset_mm, low_x_mm + far_mm, low_y_mm + far_mm};
  }
  layout.return_x_mm = low_x_mm + inner.low_mm;
  place_digits(options, layout);
  place_fence(inner, w, layout);
  return layout;
}

}  // namespace meltlag::testpiece::piece
