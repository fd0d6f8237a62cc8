// SPDX-License-Identifier: MIT
#include "trail.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "rings_middle.hpp"
#include "trail_points.hpp"

namespace meltlag::scan {
namespace {

constexpr double radial_cosine = 0.7;  // of a step between rings with the radius
constexpr double round_mm = 0.3;       // a ring's places are so nearly equally far out
constexpr std::size_t fewest_rings = 4;

[[noreturn]] void refuse_file(std::string const& path) {
  throw Error("the file is no ring piece: its beads are not rings about one middle",
              {.file = path},
              "Give the G-code that meltlag calibrate print --rings wrote.");
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
    TrailPoints laid = scan::lay_points(moves_);
    if (!laid.one_layer) refuse_file(path_);
    trail_.height_mm = laid.height_mm;
    trail_.points = std::move(laid.points);
    turns_ = std::move(laid.turns_mm);
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
