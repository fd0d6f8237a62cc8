// SPDX-License-Identifier: MIT
#include "ring_text.hpp"

#include <fmt/format.h>

#include <cmath>

#include "test_piece_text.hpp"

namespace meltlag::testpiece::rings {

std::vector<std::string> const& sheet_cautions() {
  static std::vector<std::string> const lines = {
      "Paper or film under a hot nozzle can scorch, melt or burn: heat-resistant film first.",
      "Paper only on a bed that is cold or below 60 C, taped flat, its edges clear of the axes.",
      "No stop over it while the nozzle is hot: lift and move away first. Someone stays beside it.",
  };
  return lines;
}

void write_ring_head(piece::Writer& writer,
                     PieceOptions const& options,
                     RingPiece const& piece,
                     piece::Speeds const& speeds,
                     piece::Bead const& bead) {
  writer.comment("ring piece of meltlag: one layer of rings that a picture is taken of");
  writer.comment("CAUTION");
  for (std::string const& line : piece::cautions()) writer.comment("  " + line);
  for (std::string const& line : sheet_cautions()) writer.comment("  " + line);
  writer.comment(
      fmt::format("traces 1 to {}: the rings from the outermost inward, radius {:g} to "
                  "{:g} mm around X{:g} Y{:g}",
                  piece.radii_mm.size(),
                  piece.radii_mm.front(),
                  piece.radii_mm.back(),
                  piece.centre_mm.x,
                  piece.centre_mm.y));
  writer.comment(fmt::format("height {:.3f} mm", bead.height_mm));
  writer.comment(fmt::format("width {:.3f} mm", bead.width_mm));
  writer.comment(fmt::format("section {:.4f} mm2", bead.section_mm2));
  writer.comment(fmt::format("slicer diameter {:.3f} mm", options.slicer_diameter_mm));
  writer.comment(fmt::format("seed {}", options.seed));
  writer.comment(fmt::format("speeds: slow {:.1f}, medium {:.1f}, fast {:.1f} mm/s",
                             speeds.slow_mm_s,
                             speeds.medium_mm_s,
                             speeds.fast_mm_s));
  writer.comment(fmt::format("copies of the groups: {}", piece.copies));
  writer.comment(fmt::format("purge before line one: {:.1f} mm3", piece.purge_mm3));
  writer.comment(fmt::format("volume asked for without purge: {:.0f} mm3", piece.wanted_mm3));
  writer.comment(fmt::format("time: {:.0f} min without heating", std::ceil(piece.planned_s / 60)));
}

}  // namespace meltlag::testpiece::rings
