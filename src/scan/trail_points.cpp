// SPDX-License-Identifier: MIT
#include "trail_points.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/program_reader.hpp"

namespace meltlag::scan {
namespace {

constexpr double any_diameter_mm = 1.75;  // only whether E is given matters here
constexpr double same_height_mm = 0.01;
constexpr std::size_t most_moves = 500'000;

class MoveKeeper : public gcode::MeaningSink {
 public:
  void on_move(gcode::Move const& move) override {
    if (moves.size() < most_moves) moves.push_back(move);
  }
  std::vector<gcode::Move> moves;
};

[[noreturn]] void refuse_empty(std::string const& path) {
  throw Error("the file prints nothing", {.file = path}, "Give the G-code that was printed.");
}

}  // namespace

std::vector<gcode::Move> read_moves(std::string const& path) {
  Notices notices;
  MoveKeeper keeper;
  gcode::ProgramReader(path, {any_diameter_mm}, notices).read_all(keeper);
  auto const prints = [](gcode::Move const& m) { return m.kind == gcode::MoveKind::print; };
  auto const first = std::find_if(keeper.moves.begin(), keeper.moves.end(), prints);
  auto const last = std::find_if(keeper.moves.rbegin(), keeper.moves.rend(), prints).base();
  if (first >= last) refuse_empty(path);
  return {first, last};
}

TrailPoints lay_points(std::vector<gcode::Move> const& moves) {
  TrailPoints out;
  double way = 0;
  out.height_mm = moves.front().end_mm.z;
  out.one_layer = out.height_mm > 0;
  for (gcode::Move const& move : moves) {
    if (move.kind == gcode::MoveKind::e_only) {
      out.turns_mm.push_back(way);
      continue;
    }
    bool const prints = move.kind == gcode::MoveKind::print;
    if (prints && std::abs(move.end_mm.z - out.height_mm) > same_height_mm) out.one_layer = false;
    auto const count = std::max(1.0, std::round(move.length_mm / trail_step_mm));
    for (double k = 0; k < count; ++k) {
      double const at = move.length_mm * (k + 0.5) / count;
      Vec3 const place = gcode::point_at(move, at), way_of = gcode::direction_at(move, at);
      out.points.push_back({.line = move.line,
                            .at_mm = at,
                            .way_mm = way + at,
                            .place = {place.x, place.y},
                            .left = {-way_of.y, way_of.x},
                            .prints = prints});
    }
    way += move.length_mm;
  }
  return out;
}

}  // namespace meltlag::scan
