// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/test_piece.hpp"

#include <algorithm>
#include <utility>

#include "test_piece_fence.hpp"
#include "test_piece_front.hpp"
#include "test_piece_layout.hpp"
#include "test_piece_plan.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_text.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece {
namespace {

using namespace piece;

// All that is decided before a line is written.
struct Design {
  PieceOptions const& options;
  Bead bead;
  Layout layout;
  Speeds speeds;
  std::optional<TurnPlan> turns;
  std::optional<ReturnFactors> factors;
  std::vector<std::string> remarks;
};

// E of one layer of the fence with the nominal return leg.
double layer_e_mm(Design const& design) {
  Fence fence(design.layout, design.speeds, design.bead, design.options.seed);
  Writer writer;
  writer.go(fence.beginning() + Vec3{0, 0, design.bead.height_mm}, design.speeds.travel_mm_s);
  fence.print_layer(writer, 2, 1);
  return writer.e_mm();
}

Design design_piece(PieceOptions const& options) {
  Bead const bead = check_options(options);
  double const purge_mm3 = std::max(least_purge_mm3, run_ons_of_purge * options.largest_run_on_mm3);
  Design design{options, bead, lay_out(options, purge_mm3, bead.section_mm2), {}, {}, {}, {}};
  Layout const& layout = design.layout;
  design.speeds = choose_speeds(options, bead, layout, design.remarks);
  design.speeds.lead_in_mm_s =
      lead_in_speed(options, design.speeds.medium_mm_s, lead_in_length(layout), design.remarks);
  if (options.e_mm_per_turn) {
    design.turns = plan_turns(layout, bead, *options.e_mm_per_turn, design.remarks);
  }
  double const return_e_mm = return_length(layout) * bead.e_mm_per_mm();
  design.factors.emplace(options, layer_e_mm(design), return_e_mm, design.remarks);
  return design;
}

// Over the frame to the ruler's beginning.
void go_inside(Writer& writer, Design const& design) {
  double const over_mm = writer.at().z + safe_gap_mm;
  Vec3 const beginning = {
      design.layout.return_x_mm, design.layout.ruler_y_mm, design.bead.height_mm};
  writer.comment("over the frame to its inside");
  writer.go({writer.at().x, writer.at().y, over_mm}, design.speeds.lift_mm_s);
  writer.go({beginning.x, beginning.y, over_mm}, design.speeds.travel_mm_s);
  writer.go(beginning, design.speeds.lift_mm_s);
}

// The moves from purge to fence. Fills in what `piece` knows of them.
void write_moves(Writer& writer, Design const& design, TestPiece& piece) {
  double const filament_mm2 = design.bead.filament_mm2;
  writer.comment("purge");
  print_purge(writer, design.layout, design.speeds, design.bead);
  piece.purge_mm3 = writer.e_mm() * filament_mm2;
  if (design.turns) {
    piece.turn_bead = print_frame(writer, design.layout, design.speeds, design.bead, *design.turns);
    go_inside(writer, design);
  }
  print_ruler(writer, design.layout, design.speeds, design.bead);
  print_numbers(writer, design.layout, design.speeds, design.bead);
  Fence fence(design.layout, design.speeds, design.bead, design.options.seed);
  writer.go(fence.beginning(), design.speeds.travel_mm_s);
  for (int layer = 1; layer <= design.options.layers; ++layer) {
    fence.print_layer(writer, layer, design.factors->of_layer(layer));
  }
  piece.walls = fence.walls();
  piece.loop = fence.loop();
  piece.lead_in_mm3 = fence.lead_in_mm3();
  piece.wanted_mm3 = writer.e_mm() * filament_mm2 - piece.purge_mm3;
}

// The whole file. Facts that its head states come from an earlier pass, in `piece`.
void write_piece(Design const& design, TestPiece& piece) {
  Writer writer;
  write_head(writer, design.options, piece, design.speeds, design.bead);
  write_start(writer, design.options, design.speeds);
  write_moves(writer, design, piece);
  write_end(writer, design.options, design.speeds);
  piece.gcode = writer.take();
}

void state_size(Design const& design, TestPiece& piece) {
  Layout const& layout = design.layout;
  double const half_mm = design.bead.width_mm / 2;
  double const top_mm = design.options.layers * design.bead.height_mm;
  piece.bead_width_mm = design.bead.width_mm;
  piece.section_mm2 = design.bead.section_mm2;
  piece.ruler_zero_x_mm = layout.left_x_mm;
  piece.ruler_y_mm = layout.ruler_y_mm;
  piece.ruler_length_mm = layout.ruler_length_mm;
  if (layout.frame) {
    double const wide_mm = half_mm * design.turns->e_mm_per_mm / design.bead.e_mm_per_mm();
    double const frame_mm = design.turns->laps * design.bead.height_mm;
    Box const& frame = *layout.frame;
    piece.low_mm = {frame.low_x_mm - wide_mm, frame.low_y_mm - wide_mm, 0};
    piece.high_mm = {
        frame.high_x_mm + wide_mm, frame.high_y_mm + wide_mm, std::max(top_mm, frame_mm)};
    return;
  }
  piece.low_mm = {layout.return_x_mm - half_mm, layout.ruler_y_mm - mark_mm(0) - half_mm, 0};
  piece.high_mm = {layout.right_x_mm + half_mm, layout.top_y_mm + half_mm, top_mm};
}

}  // namespace

char const* name_of(Group group) {
  switch (group) {
    case Group::small_step:
      return "small step";
    case Group::medium_step:
      return "medium step";
    case Group::large_step:
      return "large step";
    case Group::run_out:
      return "run out";
    case Group::short_retracts:
      break;
  }
  return "short retracts";
}

TestPiece make_test_piece(PieceOptions const& options) {
  Design design = design_piece(options);
  TestPiece piece;
  state_size(design, piece);
  if (design.turns) piece.turn_bead.emplace();  // its line of the head has to be there at once
  write_piece(design, piece);
  piece.planned_s = plan(piece.gcode, options).duration_s;
  write_piece(design, piece);  // now that volume and time are known
  check_sections(piece, plan(piece.gcode, options), design.remarks);
  piece.remarks = std::move(design.remarks);
  return piece;
}

}  // namespace meltlag::testpiece
