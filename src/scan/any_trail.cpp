// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <unordered_map>

#include "meltlag/base/error.hpp"
#include "trail_points.hpp"

namespace meltlag::scan {
namespace {

class AnyTrailMaker {
 public:
  AnyTrailMaker(std::string const& path, std::vector<gcode::Move> const& moves) : path_(path) {
    TrailPoints laid = lay_points(moves);
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

}  // namespace meltlag::scan
