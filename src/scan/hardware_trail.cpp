// SPDX-License-Identifier: MIT
#include "hardware_trail.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "meltlag/testpiece/hardware_piece.hpp"

namespace meltlag::scan {
namespace {

constexpr double any_diameter_mm = 1.75;  // only whether E is given matters here
constexpr double beyond_mm = 4;           // of a stop
constexpr std::size_t fewest_beads = 4;

bool is_other_bead(std::string_view comment) {
  return comment.starts_with("; ") && (comment.substr(2).starts_with(testpiece::hardware_upright) ||
                                       comment.substr(2).starts_with(testpiece::hardware_lead_in));
}

// The first move that prints after each comment of a bead.
class StrandKeeper : public gcode::MeaningSink {
 public:
  void on_comment(std::string_view comment) {
    auto const bead = testpiece::read_hardware_comment(comment);
    if (!bead && !is_other_bead(comment)) return;
    seen_upright_ = seen_upright_ || !bead;
    wanted_ = true;
    bead_ = bead;
  }
  void on_move(gcode::Move const& move) override {
    if (!wanted_ || move.kind != gcode::MoveKind::print) return;
    wanted_ = false;
    moves.push_back({move, bead_});
  }
  struct Strand {
    gcode::Move move;
    std::optional<testpiece::HardwareBead> bead;
  };
  std::vector<Strand> moves;
  [[nodiscard]] bool complete() const {
    auto const beads = std::count_if(
        moves.begin(), moves.end(), [](Strand const& strand) { return strand.bead.has_value(); });
    return seen_upright_ && static_cast<std::size_t>(beads) >= fewest_beads;
  }

 private:
  bool wanted_ = false, seen_upright_ = false;
  std::optional<testpiece::HardwareBead> bead_;
};

class HardwareTrailMaker {
 public:
  void add(StrandKeeper::Strand const& strand) {
    HardwareSpan span;
    span.from = points().size();
    ++strands_;
    lay(strand.move, 0, strand.move.length_mm, true);
    span.stops = points().size();
    if (!strand.bead) return;
    lay(strand.move, strand.move.length_mm, strand.move.length_mm + beyond_mm, false);
    span.to = points().size();
    span.stop = strand.bead->stop;
    span.flow_mm3_s = strand.bead->flow_mm3_s;
    out_.beads.push_back(span);
    out_.trail.height_mm = strand.move.end_mm.z;
  }

  HardwareTrail take() {
    Place2 low{1e9, 1e9}, high{-1e9, -1e9};
    for (TrailPoint const& point : points()) {
      low = {std::min(low.x, point.place.x), std::min(low.y, point.place.y)};
      high = {std::max(high.x, point.place.x), std::max(high.y, point.place.y)};
    }
    for (TrailPoint& point : points()) point.place = point.place - 0.5 * (low + high);
    return std::move(out_);
  }

 private:
  std::vector<TrailPoint>& points() { return out_.trail.points; }

  void lay(gcode::Move const& move, double from_mm, double to_mm, bool prints) {
    Vec3 const way = gcode::direction_at(move, 0);
    auto const count = std::max(1.0, std::round((to_mm - from_mm) / trail_step_mm));
    for (double k = 0; k < count; ++k) {
      double const at = from_mm + (to_mm - from_mm) * (k + 0.5) / count;
      Vec3 const place = move.start_mm + at * way;
      TrailPoint point{.line = move.line,
                       .at_mm = at,
                       .way_mm = way_mm_ + at,
                       .place = {place.x, place.y},
                       .left = {-way.y, way.x},
                       .prints = prints};
      // Ends are round: no place for edges across the bead.
      point.to_turn_mm = prints ? std::min(at, move.length_mm - at) : 0;
      point.ring = strands_;
      points().push_back(point);
    }
    way_mm_ += prints ? 0 : move.length_mm + beyond_mm;
  }

  HardwareTrail out_;
  double way_mm_ = 0;
  int strands_ = 0;
};

}  // namespace

HardwareTrail read_hardware_trail(std::string const& gcode_path) {
  Notices notices;
  StrandKeeper keeper;
  gcode::ProgramReader reader(gcode_path, {any_diameter_mm}, notices);
  while (reader.next()) {
    if (reader.block().words.empty()) keeper.on_comment(reader.block().comment);
    reader.interpret(keeper);
  }
  if (!keeper.complete())
    throw Error("the file is no hardware piece in the form for pictures",
                {.file = gcode_path},
                "Give the G-code that meltlag calibrate print --hardware --map PAGE.svg wrote.");
  HardwareTrailMaker maker;
  for (StrandKeeper::Strand const& strand : keeper.moves) maker.add(strand);
  return maker.take();
}

}  // namespace meltlag::scan
