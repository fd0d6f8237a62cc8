// SPDX-License-Identifier: MIT
// The path of a print with what is laid along it, kept small enough for a page.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include "meltlag/gcode/layers.hpp"
#include "meltlag/gcode/purge.hpp"
#include "meltlag/judge/cell.hpp"

namespace meltlag::page {

// What one file does along a stretch of the path.
struct StretchSide {
  float duration_s = 0, commanded_mm3 = 0, got_mm3 = 0;
  float run_on_mm3 = 0;  // at its end
  float blob_mm3 = 0;    // at its end
};

// `rest`: the head stands; also where a G92 or the like moves the numbers without the head.
enum class PathStretchKind : std::uint8_t { travel, print, unprint, e_only, rest };

// Straight, from where the one before it ends; consecutive cells that are nearly alike.
struct PathStretch {
  float x_mm = 0, y_mm = 0, z_mm = 0;  // where it ends, program coordinates
  float length_mm = 0, wanted_mm3 = 0;
  StretchSide before, after;
  std::uint32_t line = 0, layer = 0;
  PathStretchKind kind = PathStretchKind::travel;
  bool late_before = false, late_after = false;  // in a gap at the beginning of a run of beads
};

// As gcode::LayerCounter counts them. Misplaced plastic is that of all cells since the layer
// before.
struct RecordedLayer {
  double z_mm = 0, height_mm = 0;
  std::int64_t line = 0;  // where it begins
  double wanted_mm3 = 0, misplaced_before_mm3 = 0, misplaced_after_mm3 = 0;
};

enum class WorstPlaceKind : std::uint8_t { thick, thin, blob, gap, string };

// Neighbouring cells where the adapted file lays too much, or too little.
struct WorstPlace {
  WorstPlaceKind kind = WorstPlaceKind::thick;
  double off_mm3 = 0, wanted_mm3 = 0, length_mm = 0;
  double blob_mm3 = 0, gap_mm = 0;
  std::int64_t line = 0;  // of the cell that is most off, as all that follows
  double at_s = 0;
  std::size_t layer = 0;
  Vec3 at_mm;
  double cell_off_mm3 = 0;
  // Of one kind within 2 mm of each other on several layers: one place, the worst stands
  // for all.
  int times = 1;
  std::size_t first_layer = 0, last_layer = 0;
};

// Cells become stretches. Where there are more than `most`, alike neighbours are put together, then
// less and less alike ones, so that memory and page stay bounded. Figures of layers and places are
// those of the cells.
class PathRecord : public judge::CellSink {
 public:
  static constexpr std::size_t usual_most = 760'000;
  explicit PathRecord(std::size_t most = usual_most) : most_(most) {}
  void on_cell(judge::CellRow const& cell) override;
  // Call when no more cells come.
  void finish();

  [[nodiscard]] std::deque<PathStretch> const& stretches() const { return stretches_; }
  [[nodiscard]] std::vector<RecordedLayer> const& layers() const { return layers_; }
  // The worst first; none on a line that purges before the part.
  [[nodiscard]] std::vector<WorstPlace> const& worst() const { return worst_; }
  // Neighbours that differ by up to this share of what is wanted were put together.
  [[nodiscard]] double tolerance() const;
  // Of the part, without a line that purges before it.
  [[nodiscard]] gcode::BeadBox beads() const { return purge_lines_.part(); }

 private:
  void rest_until(judge::CellRow const& cell);
  void find_layer(judge::CellRow const& cell);
  void add(PathStretch const& stretch);
  [[nodiscard]] bool try_join(PathStretch& last, PathStretch const& next, Vec3 last_start) const;
  void coarsen();
  void weigh(judge::CellRow const& cell);
  void end_place();

  std::size_t most_;
  int level_ = 0;  // how unlike neighbours may be
  std::deque<PathStretch> stretches_;
  std::vector<RecordedLayer> layers_;
  gcode::LayerCounter counter_;
  gcode::PurgeLineFinder purge_lines_;
  Vec3 last_start_, end_mm_;
  bool end_known_ = false;
  double end_before_s_ = 0, end_after_s_ = 0;
  bool late_before_ = false, late_after_ = false;
  WorstPlace place_;
  std::vector<WorstPlace> worst_;
};

}  // namespace meltlag::page
