// SPDX-License-Identifier: MIT
#include "trail.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <unordered_map>

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

[[noreturn]] void refuse_empty(std::string const& path) {
  throw Error("the file prints nothing", {.file = path}, "Give the G-code that was printed.");
}

// From the first bead to the last one.
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

// Places along moves of one height, and where only the screw turned.
struct Points {
  std::vector<TrailPoint> points;
  std::vector<double> turns_mm;
  double height_mm = 0;
  bool one_layer = true;
};
Points lay_points(std::vector<gcode::Move> const& moves) {
  Points out;
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
    Points laid = scan::lay_points(moves_);
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

// Any file of one layer.
class AnyTrailMaker {
 public:
  AnyTrailMaker(std::string const& path, std::vector<gcode::Move> const& moves) : path_(path) {
    Points laid = scan::lay_points(moves);
    if (!laid.one_layer)
      throw Error("the file prints more than one layer, and a picture from above shows the last",
                  {.file = path},
                  "Print one layer with its beads apart, such as a purge line or a zigzag.");
    trail_.height_mm = laid.height_mm;
    trail_.points = std::move(laid.points);
    turns_ = std::move(laid.turns_mm);
  }

  Trail make() {
    centre();
    number_stretches();
    find_neighbours();
    measure_distances();
    return std::move(trail_);
  }

 private:
  static constexpr double clear_mm = 3.5;        // from any other bead
  static constexpr double same_bead_mm = 12;     // of way: nearer places are of one bead
  static constexpr double corner_cosine = 0.94;  // 20 degrees
  static constexpr double least_clear = 0.2;     // of the beads

  void centre() {
    Place2 low{1e9, 1e9}, high{-1e9, -1e9};
    for (TrailPoint const& point : trail_.points) {
      if (!point.prints) continue;
      low = {std::min(low.x, point.place.x), std::min(low.y, point.place.y)};
      high = {std::max(high.x, point.place.x), std::max(high.y, point.place.y)};
    }
    for (TrailPoint& point : trail_.points) point.place = point.place - 0.5 * (low + high);
  }

  void number_stretches() {
    int stretch = 1;
    std::vector<TrailPoint>& points = trail_.points;
    for (std::size_t i = 0; i < points.size(); ++i) {
      bool const on = i == 0 || (points[i].prints == points[i - 1].prints &&
                                 dot(points[i].left, points[i - 1].left) > corner_cosine);
      if (!on) {
        ++stretch;
        if (points[i].prints && points[i - 1].prints) corners_.push_back(points[i].way_mm);
      }
      points[i].ring = stretch;
    }
  }

  // Squares of clear_mm, so that neighbours are in the nine about a place.
  [[nodiscard]] static std::int64_t square_of(int x, int y) {
    return (static_cast<std::int64_t>(x) << 32) + y;
  }
  [[nodiscard]] static int square(double mm) { return static_cast<int>(std::floor(mm / clear_mm)); }

  void find_neighbours() {
    constexpr std::size_t every = 3;  // places of a neighbour
    std::unordered_map<std::int64_t, std::vector<std::size_t>> squares;
    std::vector<TrailPoint>& points = trail_.points;
    for (std::size_t i = 0; i < points.size(); i += every)
      if (points[i].prints)
        squares[square_of(square(points[i].place.x), square(points[i].place.y))].push_back(i);
    std::size_t beads = 0, clear = 0;
    for (TrailPoint& point : points) {
      if (!point.prints) continue;
      ++beads;
      if (is_beside(point, squares))
        point.to_step_mm = 0;
      else
        ++clear;
    }
    if (static_cast<double>(clear) < least_clear * static_cast<double>(beads))
      throw Error("hardly any bead of the file lies 3.5 mm or more from all others",
                  {.file = path_},
                  "Widths are read where beads lie apart: print lines or rings 4 mm apart.");
  }
  [[nodiscard]] bool is_beside(
      TrailPoint const& point,
      std::unordered_map<std::int64_t, std::vector<std::size_t>> const& squares) const {
    int const x = square(point.place.x), y = square(point.place.y);
    for (int dx = -1; dx <= 1; ++dx)
      for (int dy = -1; dy <= 1; ++dy) {
        auto const found = squares.find(square_of(x + dx, y + dy));
        if (found == squares.end()) continue;
        for (std::size_t const i : found->second) {
          TrailPoint const& other = trail_.points[i];
          if (std::abs(other.way_mm - point.way_mm) > same_bead_mm &&
              norm(other.place - point.place) < clear_mm)
            return true;
        }
      }
    return false;
  }

  void measure_distances() {
    std::sort(corners_.begin(), corners_.end());
    std::sort(turns_.begin(), turns_.end());
    for (TrailPoint& point : trail_.points) {
      point.to_step_mm = std::min(point.to_step_mm, nearest(corners_, point.way_mm));
      point.to_turn_mm = nearest(turns_, point.way_mm);
    }
  }
  [[nodiscard]] static double nearest(std::vector<double> const& ways, double way) {
    auto const next = std::lower_bound(ways.begin(), ways.end(), way);
    double least = 1e9;
    if (next != ways.end()) least = *next - way;
    if (next != ways.begin()) least = std::min(least, way - *(next - 1));
    return least;
  }

  std::string const& path_;
  Trail trail_;
  std::vector<double> corners_, turns_;
};

}  // namespace

Trail read_any_trail(std::string const& gcode_path) {
  return AnyTrailMaker(gcode_path, read_moves(gcode_path)).make();
}

Trail read_trail(std::string const& gcode_path) {
  return TrailMaker(gcode_path, read_moves(gcode_path)).make();
}

}  // namespace meltlag::scan
