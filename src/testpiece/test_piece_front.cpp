// SPDX-License-Identifier: MIT
#include "test_piece_front.hpp"

#include "digits.hpp"
#include "meltlag/melt/bead.hpp"

namespace meltlag::testpiece::piece {
namespace {

double thin_e_mm_per_mm(Layout const& layout, Bead const& bead) {
  return melt::bead_section_mm2(layout.thin_width_mm, bead.height_mm) / bead.filament_mm2;
}

// A mark at `x`: to the front and back, as wide as a bead needs to turn.
void print_mark(Writer& writer, Layout const& layout, int place_mm, double z, double e, double v) {
  double const side_mm = writer.at().x < layout.left_x_mm + place_mm ? 1 : -1;
  double const x = layout.left_x_mm + place_mm, y = layout.ruler_y_mm;
  writer.print({x - side_mm, y, z}, e, v);
  writer.print({x, y - mark_mm(place_mm), z}, e, v);
  writer.print({x + side_mm, y, z}, e, v);
}

}  // namespace

void print_purge(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead) {
  double const e = bead.e_mm_per_mm(), v = speeds.medium_mm_s, z = bead.height_mm;
  double const left_x = layout.purge_x_mm, right_x = left_x + layout.purge_row_mm;
  double y = layout.purge_last_y_mm - (layout.purge_rows - 1) * purge_pitch_mm;
  bool to_left = layout.purge_rows % 2 == 1;  // so that the last row ends at the left
  writer.go({to_left ? right_x : left_x, y, z + 5}, speeds.travel_mm_s);
  writer.go({writer.at().x, y, z}, speeds.lift_mm_s);
  for (int row = 0; row < layout.purge_rows; ++row, to_left = !to_left) {
    if (row > 0) writer.print({writer.at().x, y += purge_pitch_mm, z}, e, v);
    writer.print({to_left ? left_x : right_x, y, z}, e, v);
  }
  // Straight on into the piece; a frame begins low, because its first side climbs.
  Vec3 const into = layout.frame ? Vec3{layout.frame->low_x_mm, layout.frame->low_y_mm, z / 2}
                                 : Vec3{layout.return_x_mm, layout.ruler_y_mm, z};
  writer.print(into, e, v);
}

void print_ruler(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead) {
  double const e = thin_e_mm_per_mm(layout, bead), v = speeds.medium_mm_s;
  double const y = layout.ruler_y_mm, h = bead.height_mm;
  int const last_mm = static_cast<int>(layout.ruler_length_mm);
  double const end_x = layout.left_x_mm + last_mm + 2.5;
  writer.comment("ruler");
  for (int place_mm = 0; place_mm <= last_mm; place_mm += 5) {
    print_mark(writer, layout, place_mm, h, e, v);
  }
  writer.print({end_x, y, h}, e, v);
  writer.print({end_x - 1, y, 2 * h}, e, v);
  for (int place_mm = last_mm; place_mm >= 0; place_mm -= 5) {
    print_mark(writer, layout, place_mm, 2 * h, e, v);
  }
  writer.print({layout.return_x_mm, y, 2 * h}, e, v);
}

void print_numbers(Writer& writer, Layout const& layout, Speeds const& speeds, Bead const& bead) {
  double const e = thin_e_mm_per_mm(layout, bead), v = speeds.medium_mm_s;
  writer.comment("numbers of the traces");
  for (int trace = 1; trace <= leg_count; ++trace) {
    Vec3 const at = {layout.digits_x_mm, layout.leg_y_mm(trace), bead.height_mm};
    for (Stroke const& stroke : strokes_of(trace, layout.digits)) {
      writer.go(at + stroke.front(), speeds.travel_mm_s);
      for (std::size_t i = 1; i < stroke.size(); ++i) writer.print(at + stroke[i], e, v);
    }
  }
}

}  // namespace meltlag::testpiece::piece
