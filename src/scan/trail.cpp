// SPDX-License-Identifier: MIT
#include "trail.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/program_reader.hpp"
#include "rings_middle.hpp"

namespace meltlag::scan {
namespace {

constexpr double any_diameter_mm = 1.75;  // only whether E is given matters here
constexpr double same_height_mm = 0.01;
constexpr double radial_cosine = 0.7;  // of a step between rings with the radius
constexpr double round_mm = 0.3;       // a ring's places are so nearly equally far out
constexpr std::size_t fewest_rings = 4;
constexpr std::size_t most_moves = 500'000;

class MoveKeeper : public gcode::MeaningSink {
 public:
  void on_move(gcode::Move const& move) override {
    if (moves.size() < most_moves) moves.push_back(move);
  }
  std::vector<gcode::Move> moves;
};

[[noreturn]] void refuse_file(std::string const& path) {
  throw Error("the file is no ring piece: its beads are not rings about one middle",
              {.file = path},
              "Give the G-code that meltlag calibrate print --rings wrote.");
}

std::vector<gcode::Move> read_moves(std::string const& path) {
  Notices notices;
  MoveKeeper keeper;
  gcode::ProgramReader(path, {any_diameter_mm}, notices).read_all(keeper);
  // From the first bead to the last one.
  auto const prints = [](gcode::Move const& m) { return m.kind == gcode::MoveKind::print; };
  auto const first = std::find_if(keeper.moves.begin(), keeper.moves.end(), prints);
  auto const last = std::find_if(keeper.moves.rbegin(), keeper.moves.rend(), prints).base();
  if (first >= last) refuse_file(path);
  return {first, last};
}

class TrailMaker {
 public:
  TrailMaker(std::string const& path, std::vector<gcode::Move> moves)
      : path_(path), moves_(std::move(moves)) {}

  Trail make() {
    lay_points();
    find_middle();
    number_rings();
    find_dry();
    measure_distances();
    return std::move(trail_);
  }

 private:
  void lay_points() {
    double way = 0;
    double const height = moves_.front().end_mm.z;
    if (!(height > 0)) refuse_file(path_);
    trail_.height_mm = height;
    for (gcode::Move const& move : moves_) {
      if (move.kind == gcode::MoveKind::e_only) {
        turns_.push_back(way);
        continue;
      }
      if (std::abs(move.end_mm.z - height) > same_height_mm) refuse_file(path_);
      auto const count = std::max(1.0, std::round(move.length_mm / trail_step_mm));
      for (double k = 0; k < count; ++k) {
        double const at = move.length_mm * (k + 0.5) / count;
        Vec3 const place = gcode::point_at(move, at), way_of = gcode::direction_at(move, at);
        trail_.points.push_back({.line = move.line,
                                 .at_mm = at,
                                 .way_mm = way + at,
                                 .place = {place.x, place.y},
                                 .left = {-way_of.y, way_of.x},
                                 .prints = move.kind == gcode::MoveKind::print});
      }
      way += move.length_mm;
    }
  }

  // The left of a way around the middle points to it.
  void find_middle() {
    std::vector<Ray> rays;
    for (TrailPoint const& point : trail_.points) rays.push_back({point.place, point.left, 1});
    Place2 const middle = meeting_point(rays, rays.front().from);
    for (TrailPoint& point : trail_.points) point.place = point.place - middle;
  }

  void number_rings() {
    int ring = 1;
    bool on_step = false;
    double least = 1e9, most = 0;
    auto const close = [&] {
      if (most - least > round_mm) refuse_file(path_);
      trail_.radii_mm.push_back((least + most) / 2);
      least = 1e9;
      most = 0;
    };
    for (TrailPoint& point : trail_.points) {
      double const radius = norm(point.place);
      Place2 const ahead{point.left.y, -point.left.x};
      point.steps = std::abs(dot(ahead, point.place)) > radial_cosine * radius;
      if (point.steps && !on_step) {
        if (most == 0) refuse_file(path_);
        close();
        first_of_step_ = point.place;
      }
      if (!point.steps && on_step) {
        ++ring;
        add_step(point);
      }
      on_step = point.steps;
      point.ring = ring;
      if (point.steps) continue;
      least = std::min(least, radius);
      most = std::max(most, radius);
    }
    if (most > 0) close();
    if (trail_.radii_mm.size() < fewest_rings) refuse_file(path_);
  }
  void add_step(TrailPoint const& behind) {
    Place2 const middle = 0.5 * (first_of_step_ + behind.place);
    trail_.steps.push_back(
        {norm(middle), std::atan2(first_of_step_.y, first_of_step_.x), behind.prints});
  }

  void find_dry() {
    std::vector<TrailPoint> const& points = trail_.points;
    for (std::size_t i = 0; i < points.size(); ++i) {
      if (points[i].prints) continue;
      std::size_t end = i;
      while (end < points.size() && !points[end].prints) ++end;
      trail_.dry.push_back({i, end});
      i = end;
    }
  }

  void measure_distances() {
    double last = -1e9;
    auto const nearer = [](double& to, double now) { to = std::min(to, now); };
    for (TrailPoint& p : trail_.points) {
      if (p.steps) last = p.way_mm;
      nearer(p.to_step_mm, p.way_mm - last);
    }
    last = 1e9;
    for (auto p = trail_.points.rbegin(); p != trail_.points.rend(); ++p) {
      if (p->steps) last = p->way_mm;
      nearer(p->to_step_mm, last - p->way_mm);
      for (double const turn : turns_) nearer(p->to_turn_mm, std::abs(turn - p->way_mm));
    }
  }

  std::string const& path_;
  std::vector<gcode::Move> moves_;
  Trail trail_;
  std::vector<double> turns_;
  Place2 first_of_step_;
};

}  // namespace

Trail read_trail(std::string const& gcode_path) {
  return TrailMaker(gcode_path, read_moves(gcode_path)).make();
}

}  // namespace meltlag::scan
