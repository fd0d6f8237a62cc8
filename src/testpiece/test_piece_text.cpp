// SPDX-License-Identifier: MIT
#include "test_piece_text.hpp"

#include <fmt/format.h>

#include <cmath>

namespace meltlag::testpiece::piece {
namespace {

constexpr double start_height_mm = 5, end_lift_mm = 10;

void write_flow(Writer& writer, char const* name, double speed_mm_s, Bead const& bead) {
  writer.comment(fmt::format(
      "  {}: {:.1f} mm/s, {:.2f} mm3/s", name, speed_mm_s, speed_mm_s * bead.section_mm2));
}

void write_flow(Writer& writer, char const* name, Pair pair, Bead const& bead) {
  writer.comment(fmt::format("  {}: {:.1f} and {:.1f} mm/s, {:.2f} and {:.2f} mm3/s",
                             name,
                             pair.low_mm_s,
                             pair.high_mm_s,
                             pair.low_mm_s * bead.section_mm2,
                             pair.high_mm_s * bead.section_mm2));
}

void write_speeds(Writer& writer, Speeds const& speeds, Bead const& bead) {
  writer.comment("speeds of the head and flows asked for, E per mm being the same:");
  write_flow(writer, "slow", speeds.slow_mm_s, bead);
  write_flow(writer, "medium", speeds.medium_mm_s, bead);
  write_flow(writer, "fast", speeds.fast_mm_s, bead);
  write_flow(writer, "small step", speeds.small, bead);
  write_flow(writer, "medium step", speeds.middle, bead);
  write_flow(writer, "lead-in", speeds.lead_in_mm_s, bead);
}

void write_sizes(Writer& writer, PieceOptions const& options, Bead const& bead) {
  writer.comment(fmt::format("layers {}", options.layers));
  writer.comment(fmt::format("height {:.3f} mm", bead.height_mm));
  writer.comment(fmt::format("width {:.3f} mm", bead.width_mm));
  writer.comment(fmt::format("section {:.4f} mm2", bead.section_mm2));
  writer.comment(fmt::format("slicer diameter {:.3f} mm", options.slicer_diameter_mm));
  writer.comment(fmt::format("seed {}", options.seed));
}

}  // namespace

std::vector<std::string> const& cautions() {
  static std::vector<std::string> const lines = {
      "The nozzle and what comes out of it burn skin; the bed may too.",
      "Plastic that decomposes gives off harmful fumes: ventilate, stay below its limits.",
      "Axes and screw move by themselves and do not stop for fingers.",
      "Never leave the machine unattended.",
      "The material's data sheet and the rules of the place come first.",
      "For people who know the machine, and who can cut its power at once.",
  };
  return lines;
}

void write_head(Writer& writer,
                PieceOptions const& options,
                TestPiece const& piece,
                Speeds const& speeds,
                Bead const& bead) {
  writer.comment(
      "test piece of meltlag: a fence of single-bead walls that shows how the outflow lags");
  writer.comment("CAUTION");
  for (std::string const& line : cautions()) writer.comment("  " + line);
  writer.comment(fmt::format(
      "traces 1 to {}: the walls from front to back; every layer is the same", leg_count));
  if (piece.turn_bead) {
    writer.comment(
        fmt::format("traces {} and {}: back and front of the frame, {:.3f} turns of the screw in "
                    "each layer; the nozzle passes beside it",
                    piece.turn_bead->trace,
                    piece.turn_bead->trace + 1,
                    piece.turn_bead->turns_per_layer));
  }
  write_sizes(writer, options, bead);
  write_speeds(writer, speeds, bead);
  writer.comment(fmt::format("purge before line one: {:.1f} mm3", piece.purge_mm3));
  writer.comment(fmt::format("lead-in of each layer: {:.1f} mm3 or more", piece.lead_in_mm3));
  writer.comment(fmt::format("volume asked for without purge: {:.0f} mm3", piece.wanted_mm3));
  writer.comment(fmt::format("time: {:.0f} min without heating", std::ceil(piece.planned_s / 60)));
}

void write_start(Writer& writer, PieceOptions const& options, Speeds const& speeds) {
  writer.comment(options.start_code ? "start code as given" : "plain start");
  if (options.start_code) {
    if (!options.start_code->empty()) writer.text(*options.start_code);
  } else {
    if (options.bed_c > 0) writer.text(fmt::format("M140 S{:g}\n", options.bed_c));
    writer.text(fmt::format("M104 S{:g}\n", options.nozzle_c));
    if (options.bed_c > 0) writer.text(fmt::format("M190 S{:g}\n", options.bed_c));
    writer.text(fmt::format("M109 S{:g}\nG28\n", options.nozzle_c));
  }
  writer.comment("the test piece begins");
  writer.text("G21\nG90\nM83\nG92 E0\n");
  writer.text(fmt::format("G1 Z{:g} F{:g}\n", start_height_mm, std::round(speeds.lift_mm_s * 60)));
  writer.forget_place();
}

void write_end(Writer& writer, PieceOptions const& options, Speeds const& speeds) {
  writer.comment("the test piece ends");
  writer.go(writer.at() + Vec3{0, 0, end_lift_mm}, speeds.lift_mm_s);
  if (options.end_code) {
    writer.comment("end code as given");
    if (!options.end_code->empty()) writer.text(*options.end_code);
    return;
  }
  writer.comment("plain end");
  writer.text("M104 S0\n");
  if (options.bed_c > 0) writer.text("M140 S0\n");
  writer.text("M84\n");
}

}  // namespace meltlag::testpiece::piece
