// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/hardware_piece.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <utility>

#include "hardware_layout.hpp"
#include "hardware_retract.hpp"
#include "meltlag/melt/bead.hpp"
#include "meltlag/testpiece/drawn.hpp"
#include "test_piece_front.hpp"
#include "test_piece_plan.hpp"
#include "test_piece_text.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece {
namespace {

using namespace piece;

constexpr double comb_height = 0.7;  // of a layer: the nozzle travels over it without touching

struct HardwareDesign {
  PieceOptions const& options;
  Bead bead;
  HardwareLayout layout;
  Speeds speeds;
  double retract_mm, retract_mm_s;
  std::vector<std::string> remarks;

  [[nodiscard]] double thin_e_mm_per_mm(double height_mm) const {
    return melt::bead_section_mm2(layout.thin_width_mm, height_mm) / bead.filament_mm2;
  }
};

HardwareDesign design_hardware(HardwareOptions const& options) {
  Bead const bead = check_options(options.piece);
  double const purge_mm3 =
      std::max(least_purge_mm3, run_ons_of_purge * options.piece.largest_run_on_mm3);
  auto const lay_out_form = options.for_picture ? lay_out_hardware_for_picture : lay_out_hardware;
  HardwareDesign design{
      options.piece, bead, lay_out_form(options.piece, purge_mm3, bead), {}, 0, 0, {}};
  design.speeds = choose_speeds(options.piece, bead, design.layout.common, design.remarks);
  design.retract_mm = options.retract_mm;
  design.retract_mm_s = retract_speed(options, bead, design.remarks);
  return design;
}

enum class Flow : std::uint8_t { medium, fast };

// Half of each group of rows medium, half fast, shuffled; the same on every platform.
std::vector<Flow> shuffled_flows(std::uint32_t seed) {
  std::mt19937 random(seed);
  std::vector<Flow> flows;
  for (int group = 0; group < hardware_rows / rows_a_group; ++group) {
    std::size_t const first = flows.size();
    for (int i = 0; i < rows_a_group; ++i) flows.push_back(i % 2 == 0 ? Flow::medium : Flow::fast);
    for (std::size_t i = rows_a_group - 1; i > 0; --i)
      std::swap(flows[first + i], flows[first + random() % (i + 1)]);
  }
  return flows;
}

// Retract, travel over the points, recovery: as a slicer does it.
void travel(Writer& writer, HardwareDesign const& design, std::vector<Vec3> const& points) {
  bool const retracts = design.retract_mm > 0;
  if (retracts) writer.turn(-design.retract_mm, design.retract_mm_s);
  for (Vec3 const& point : points) writer.go(point, design.speeds.travel_mm_s);
  if (retracts) writer.turn(design.retract_mm, design.retract_mm_s);
}

// Quick hops: too short for the outflow to cease.
void print_group_numbers(Writer& writer, HardwareDesign const& design) {
  HardwareLayout const& layout = design.layout;
  double const h = design.bead.height_mm, e = design.thin_e_mm_per_mm(h);
  writer.comment("numbers of every fourth bead");
  for (int row = 0; row < hardware_rows; row += rows_a_group) {
    Vec3 const at = {layout.digits_x_mm, layout.y_mm(row), h};
    for (Stroke const& stroke : strokes_of(row + 1, layout.digits)) {
      writer.go(at + stroke.front(), design.speeds.travel_mm_s);
      for (std::size_t i = 1; i < stroke.size(); ++i)
        writer.print(at + stroke[i], e, design.speeds.medium_mm_s);
    }
  }
}

// One bead without a stop, from the back to the front: corners stay in place however long the lag.
void print_comb(Writer& writer, HardwareDesign const& design) {
  HardwareLayout const& layout = design.layout;
  double const z = comb_height * design.bead.height_mm, x = layout.spine_x_mm();
  double const e = design.thin_e_mm_per_mm(z), v = design.speeds.medium_mm_s;
  double const half_mm = layout.thin_width_mm / 2;
  constexpr double half_tooth_mm = 0.6;
  writer.comment("comb: each tooth's tip is beside the start of the bead in front of it");
  writer.go({layout.digits_x_mm, layout.top_y_mm, z}, design.speeds.travel_mm_s);
  writer.print({x, layout.top_y_mm, z}, e, v);
  for (int row = hardware_rows - 1; row >= 0; --row) {
    double const y = layout.behind_y_mm(row);
    writer.print({x, y + half_tooth_mm, z}, e, v);
    writer.print({layout.start_x_mm(row) - half_mm, y, z}, e, v);
    writer.print({x, y - half_tooth_mm, z}, e, v);
  }
  writer.print({x, layout.y_mm(0) - 2, z}, e, v);
}

// On from the purge, without a stop.
void print_upright(Writer& writer, HardwareDesign const& design) {
  HardwareLayout const& layout = design.layout;
  writer.comment(std::string(hardware_upright));
  writer.print({layout.upright_x_mm, layout.top_y_mm, design.bead.height_mm},
               design.bead.e_mm_per_mm(),
               design.speeds.medium_mm_s);
}

Vec3 lead_in_begin(HardwareDesign const& design, int row) {
  HardwareLayout const& layout = design.layout;
  return {layout.lead_in_begin_x_mm(row), layout.behind_y_mm(row), design.bead.height_mm};
}

// Back over the lead-in and forth again: long enough for the outflow to cease or not to, and what
// drips lies between the lead-in's strands.
std::vector<Vec3> way_to_start(HardwareDesign const& design, int row) {
  HardwareLayout const& layout = design.layout;
  double const z = design.bead.height_mm, y = layout.y_mm(row);
  double const back_y = layout.for_picture ? y : y + layout.pitch_mm / 4;
  return {{layout.way_back_x_mm(row), back_y, z}, {layout.start_x_mm(row), y, z}};
}

double travel_mm(HardwareDesign const& design) {
  std::vector<Vec3> const way = way_to_start(design, 0);
  Vec3 const stop = {
      design.layout.lead_in_end_x_mm(0), design.layout.lead_in_y_mm(0), design.bead.height_mm};
  return norm(way[0] - stop) + norm(way[1] - way[0]);
}

// Lead-in and bead of one row.
HardwareBead print_row(Writer& writer, HardwareDesign const& design, int row, Flow flow) {
  HardwareLayout const& layout = design.layout;
  double const z = design.bead.height_mm, e = design.bead.e_mm_per_mm(), y = layout.y_mm(row);
  double const v = flow == Flow::fast ? design.speeds.fast_mm_s : design.speeds.medium_mm_s;
  HardwareBead bead{.stop = row + 1, .speed_mm_s = v, .flow_mm3_s = v * design.bead.section_mm2};
  bead.from = {layout.start_x_mm(row), y, z};
  bead.to = {layout.stop_x_mm(row), y, z};
  std::string const name = fmt::format("bead {}: {:.2f} mm3/s", bead.stop, bead.flow_mm3_s);
  writer.comment(layout.for_picture ? std::string(hardware_lead_in) + " of " + name : name);
  if (!layout.for_picture) {
    writer.print({layout.lead_in_turn_x_mm(row), layout.behind_y_mm(row), z}, e, v);
    writer.print({layout.lead_in_turn_x_mm(row), y, z}, e, v);
  }
  writer.print({layout.lead_in_end_x_mm(row), layout.lead_in_y_mm(row), z}, e, v);
  travel(writer, design, way_to_start(design, row));
  if (layout.for_picture) writer.comment(name);
  bead.line = writer.print(bead.to, e, v);
  return bead;
}

// Off the blob and along beyond the row, so that what drips lies on no bead that counts.
std::vector<Vec3> way_off(HardwareDesign const& design, int row) {
  HardwareLayout const& layout = design.layout;
  double const z = design.bead.height_mm, y = layout.behind_y_mm(row);
  return {{layout.stop_x_mm(row) - 2, y, z}, {layout.spine_x_mm() - 1, y, z}};
}

void write_moves(Writer& writer, HardwareDesign const& design, HardwarePiece& piece) {
  writer.comment("purge");
  print_purge(writer, design.layout.common, design.speeds, design.bead);
  piece.purge_mm3 = writer.e_mm() * design.bead.filament_mm2;
  if (design.layout.for_picture) {
    print_upright(writer, design);
  } else {
    print_group_numbers(writer, design);
    print_comb(writer, design);
  }
  std::vector<Flow> const flows = shuffled_flows(design.options.seed);
  piece.beads.clear();
  travel(writer, design, {lead_in_begin(design, 0)});
  for (int row = 0; row < hardware_rows; ++row) {
    piece.beads.push_back(print_row(writer, design, row, flows[static_cast<std::size_t>(row)]));
    std::vector<Vec3> way = way_off(design, row);
    if (row + 1 < hardware_rows) way.push_back(lead_in_begin(design, row + 1));
    travel(writer, design, way);
  }
  piece.wanted_mm3 = writer.e_mm() * design.bead.filament_mm2 - piece.purge_mm3;
}

void write_hardware_head(Writer& writer, HardwareDesign const& design, HardwarePiece const& piece) {
  Speeds const& speeds = design.speeds;
  double const section = design.bead.section_mm2;
  writer.comment("hardware piece of meltlag: 24 starts and 24 stops as sliced");
  writer.comment("CAUTION");
  for (std::string const& line : cautions()) writer.comment("  " + line);
  if (design.layout.for_picture)
    for (std::string const& line : rings::sheet_cautions()) writer.comment("  " + line);
  writer.comment("Print this same file on every build that is to be compared.");
  writer.comment(
      design.layout.for_picture
          ? "beads 1 to 24 from front to back; for a picture on the page of --map"
          : "beads 1 to 24 from front to back; the numbers stand beside 1, 5, 9, 13, 17, "
            "21");
  writer.comment(fmt::format("height {:.3f} mm, one layer", design.bead.height_mm));
  writer.comment(fmt::format("width {:.3f} mm, section {:.4f} mm2", design.bead.width_mm, section));
  writer.comment(fmt::format("slicer diameter {:.3f} mm", design.options.slicer_diameter_mm));
  writer.comment(fmt::format("seed {}", design.options.seed));
  for (auto const& [name, v] :
       {std::pair{"medium", speeds.medium_mm_s}, std::pair{"fast", speeds.fast_mm_s}})
    writer.comment(fmt::format("{}: {:.1f} mm/s, {:.2f} mm3/s, lead-in {:.1f} mm or {:.1f} s",
                               name,
                               v,
                               v * section,
                               piece.lead_in_mm,
                               piece.lead_in_mm / v));
  writer.comment(fmt::format("retract {:g} mm of E at {:g} mm/s; {:.1f} mm of travel to each start",
                             design.retract_mm,
                             design.retract_mm_s,
                             piece.travel_mm));
  writer.comment(fmt::format("purge before line one: {:.1f} mm3", piece.purge_mm3));
  writer.comment(fmt::format("volume asked for without purge: {:.0f} mm3", piece.wanted_mm3));
  writer.comment(fmt::format("time: {:.0f} min without heating", std::ceil(piece.planned_s / 60)));
}

void write_piece(HardwareDesign const& design, HardwarePiece& piece) {
  Writer writer;
  write_hardware_head(writer, design, piece);
  write_start(writer, design.options, design.speeds);
  write_moves(writer, design, piece);
  write_end(writer, design.options, design.speeds);
  piece.gcode = writer.take();
}

void state_facts(HardwareDesign const& design, HardwarePiece& piece) {
  Box const& square = design.layout.common.square;
  piece.bead_width_mm = design.bead.width_mm;
  piece.layer_height_mm = design.bead.height_mm;
  piece.lead_in_mm = design.layout.lead_in_mm();
  piece.travel_mm = travel_mm(design);
  piece.retract_mm = design.retract_mm;
  piece.retract_mm_s = design.retract_mm_s;
  piece.low_mm = {square.low_x_mm, square.low_y_mm, 0};
  piece.high_mm = {square.high_x_mm, square.high_y_mm, design.bead.height_mm};
}

// The beads as sections of walls, to be compared with what the printer makes of their lines.
void check_beads(HardwareDesign& design, HardwarePiece const& piece, Plan const& planned) {
  TestPiece as_walls;
  for (HardwareBead const& bead : piece.beads) {
    Section section{.from_mm = bead.from.x,
                    .to_mm = bead.to.x,
                    .speed_mm_s = bead.speed_mm_s,
                    .e_mm_per_mm = design.bead.e_mm_per_mm(),
                    .about = {},
                    .lines = {bead.line}};
    as_walls.walls.push_back({.trace = bead.stop, .sections = {std::move(section)}});
  }
  check_sections(as_walls, planned, design.remarks);
}

}  // namespace

HardwarePiece make_hardware_piece(HardwareOptions const& options) {
  HardwareDesign design = design_hardware(options);
  HardwarePiece piece;
  state_facts(design, piece);
  write_piece(design, piece);
  piece.planned_s = plan(piece.gcode, options.piece).duration_s;
  write_piece(design, piece);  // now that volume and time are known
  check_beads(design, piece, plan(piece.gcode, options.piece));
  piece.remarks = std::move(design.remarks);
  return piece;
}

std::optional<HardwareBead> read_hardware_comment(std::string_view comment) {
  HardwareBead bead;
  std::string const text(comment);
  if (std::sscanf(text.c_str(), "; bead %d: %lf mm3/s", &bead.stop, &bead.flow_mm3_s) != 2)
    return std::nullopt;
  return bead;
}

std::string write_hardware_sheet(HardwarePiece const& piece) {
  std::string out = "stop,flow_mm3_s,blob_mm,bead_mm,gap_mm,note\n";
  for (HardwareBead const& bead : piece.beads) {
    int const first = (bead.stop - 1) / rows_a_group * rows_a_group + 1, behind = bead.stop - first;
    std::string const which = behind == 0 ? fmt::format("beside the number {}", first)
                                          : fmt::format("{} behind the number {}", behind, first);
    out += fmt::format("{},{:.2f},,,,{}; layer {:.3f} mm; retract {:g} mm\n",
                       bead.stop,
                       bead.flow_mm3_s,
                       which,
                       piece.layer_height_mm,
                       piece.retract_mm);
  }
  return out;
}

}  // namespace meltlag::testpiece
