// SPDX-License-Identifier: MIT
// The map: what stands where, at 1:1.
#include "meltlag/page/map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>

#include "map_labels.hpp"
#include "meltlag/testpiece/drawn.hpp"
#include "svg_page.hpp"

namespace meltlag::page {
namespace {

constexpr double left_mm = 14, piece_top_mm = 56, list_top_mm = 212, list_bottom_mm = 288;
constexpr double number_size_mm = 2.4, digit_mm = 1.4;
constexpr std::string_view grey = "#c8c8c8", dark_grey = "#909090", black = "black";

class MapDrawing {
 public:
  explicit MapDrawing(testpiece::TestPiece const& piece) : piece_(piece) {}
  std::string draw(std::vector<MapMark> const& marks);

 private:
  [[nodiscard]] Point on_page(double x_mm, double y_mm) const {
    return {left_mm + x_mm - piece_.low_mm.x, piece_top_mm + piece_.high_mm.y - y_mm};
  }
  [[nodiscard]] Point on_ruler(double ruler_mm, double y_mm) const {
    return on_page(piece_.ruler_zero_x_mm + ruler_mm, y_mm);
  }
  [[nodiscard]] double y_of_trace(int trace) const;
  void head();
  void beads();
  void wall(testpiece::Wall const& wall);
  void ruler();
  void sides();
  void arrows(std::vector<MapMark> const& marks);
  void arrows_of_trace(double y_mm, std::vector<MapMark> const& marks);
  void foot();
  void list(std::vector<MapMark> const& marks);

  testpiece::TestPiece const& piece_;
  SvgPage page_;
};

void MapDrawing::head() {
  page_.text({left_mm, 16}, "Map of the test piece, from above, actual size", {5, {}, true});
  page_.text({left_mm, 22.5},
             "Print at 100 % (no fitting to the page). This line must measure 100 mm:",
             {3.2});
  page_.line({{left_mm, 26}, {left_mm, 30}}, {0.25, black});
  page_.line({{left_mm + 100, 26}, {left_mm + 100, 30}}, {0.25, black});
  page_.line({{left_mm, 28}, {left_mm + 100, 28}}, {0.25, black});
  page_.text({left_mm + 103, 29.1}, "must measure 100 mm", {3.2});
  page_.text({left_mm, 37},
             "Lay the piece on the drawing with its ruler towards you. A numbered arrow is the row "
             "of that number in the sheet.",
             {3.2});
  page_.text({left_mm, 42},
             "Light: printed. Dark: faster than the stretch before or after it. Dashed: the screw "
             "stands. Arrowheads: the way the head goes.",
             {2.8});
}

// The fence's path and the frame, as wide as their beads.
void MapDrawing::beads() {
  std::vector<Point> path;
  for (Vec3 const& corner : piece_.loop) path.push_back(on_page(corner.x, corner.y));
  page_.line(path, {piece_.bead_width_mm, grey});
  if (!piece_.turn_bead) return;
  path.clear();
  for (Vec3 const& corner : piece_.turn_bead->corners) path.push_back(on_page(corner.x, corner.y));
  path.push_back(path.front());
  double const wide_mm = 2 * (piece_.turn_bead->corners.front().x - piece_.low_mm.x);
  page_.line(path, {wide_mm, grey});
}

void MapDrawing::wall(testpiece::Wall const& wall) {
  double const w = piece_.bead_width_mm;
  double slowest_mm_s = wall.sections.front().speed_mm_s;
  for (testpiece::Section const& section : wall.sections) {
    slowest_mm_s = std::min(slowest_mm_s, section.speed_mm_s);
  }
  for (testpiece::Section const& section : wall.sections) {
    Point const from = on_ruler(section.from_mm, wall.y_mm);
    Point const to = on_ruler(section.to_mm, wall.y_mm);
    if (section.e_mm_per_mm == 0) {
      page_.line({from, to}, {w + 0.1, "white"});
      page_.line({from, to}, {0.3, dark_grey, 1});
    } else if (section.speed_mm_s > 1.05 * slowest_mm_s) {
      page_.line({from, to}, {w, dark_grey});
    }
    double const side = section.to_mm > section.from_mm ? 1 : -1;
    Point const tip = {(from.x_mm + to.x_mm) / 2 + side, from.y_mm};
    page_.triangle(
        tip, {tip.x_mm - 2 * side, tip.y_mm - 0.45}, {tip.x_mm - 2 * side, tip.y_mm + 0.45}, black);
  }
  Point const left = on_ruler(0, wall.y_mm);
  page_.text({left.x_mm - 2, left.y_mm + 1.2},
             fmt::format("{}", wall.trace),
             {3.4, TextAnchor::end, true});
  page_.text({left_mm + testpiece::piece::side_mm + 4, left.y_mm + 1},
             fmt::format("{}: {}, copy {}", wall.trace, name_of(wall.group), wall.copy),
             {3});
}

void MapDrawing::ruler() {
  double const y = piece_.ruler_y_mm;
  Pen const pen = {0.25, black};
  page_.line({on_ruler(0, y), on_ruler(piece_.ruler_length_mm, y)}, pen);
  for (int place_mm = 0; place_mm <= piece_.ruler_length_mm; place_mm += 5) {
    page_.line({on_ruler(place_mm, y), on_ruler(place_mm, y - testpiece::piece::mark_mm(place_mm))},
               pen);
    if (place_mm % 10 != 0) continue;
    page_.text(on_ruler(place_mm, y - testpiece::piece::mark_mm(0) - 2.3),
               fmt::format("{}", place_mm),
               {number_size_mm, TextAnchor::middle});
  }
  Point const beside = on_page(piece_.low_mm.x + testpiece::piece::side_mm + 4, y - 2);
  page_.text(beside, "ruler, mm", {3});
}

void MapDrawing::sides() {
  double const middle_mm = left_mm + testpiece::piece::side_mm / 2;
  page_.text({middle_mm, piece_top_mm - 5.5}, "back of the bed", {3, TextAnchor::middle});
  double const bottom_mm = on_page(0, piece_.low_mm.y).y_mm;
  page_.text({middle_mm, bottom_mm + 7},
             "FRONT of the bed: this side towards you",
             {3.6, TextAnchor::middle, true});
  if (!piece_.turn_bead) return;
  testpiece::TurnBead const& bead = *piece_.turn_bead;
  double const x_mm = left_mm + testpiece::piece::side_mm + 4;
  page_.text({x_mm, on_page(0, bead.corners[1].y).y_mm + 1},
             fmt::format("{}: frame, back; {:.2f} turns a layer", bead.trace, bead.turns_per_layer),
             {3});
  page_.text({x_mm, on_page(0, bead.corners[0].y).y_mm + 1},
             fmt::format("{}: frame, front", bead.trace + 1),
             {3});
}

double MapDrawing::y_of_trace(int trace) const {
  for (testpiece::Wall const& wall : piece_.walls) {
    if (wall.trace == trace) return wall.y_mm;
  }
  assert(piece_.turn_bead && trace - piece_.turn_bead->trace <= 1);
  bool const back = trace == piece_.turn_bead->trace;
  return piece_.turn_bead->corners[back ? 1 : 0].y;
}

void MapDrawing::arrows_of_trace(double y_mm, std::vector<MapMark> const& marks) {
  std::vector<Label> labels;
  for (MapMark const& mark : marks) {
    double const digits = static_cast<double>(fmt::formatted_size("{}", mark.number));
    labels.push_back(
        {.wanted_mm = on_ruler(mark.ruler_mm, y_mm).x_mm, .width_mm = digits * digit_mm + 0.8});
  }
  spread(labels, left_mm, left_mm + testpiece::piece::side_mm);
  double const edge_mm = on_page(0, y_mm).y_mm - piece_.bead_width_mm / 2;
  for (std::size_t i = 0; i < marks.size(); ++i) {
    page_.arrow({labels[i].at_mm, edge_mm - 1.5}, {labels[i].wanted_mm, edge_mm + 0.1});
    page_.text({labels[i].at_mm, edge_mm - 1.7},
               fmt::format("{}", marks[i].number),
               {number_size_mm, TextAnchor::middle, true});
  }
}

void MapDrawing::arrows(std::vector<MapMark> const& marks) {
  std::map<int, std::vector<MapMark>> by_trace;
  for (MapMark const& mark : marks) by_trace[mark.trace].push_back(mark);
  for (auto const& [trace, own] : by_trace) arrows_of_trace(y_of_trace(trace), own);
}

void MapDrawing::foot() {
  double y_mm = piece_top_mm + testpiece::piece::side_mm + 14;
  page_.text({left_mm, y_mm}, "Caution", {3.4, {}, true});
  for (std::string const& caution : testpiece::piece::cautions()) {
    page_.text({left_mm, y_mm += 4.4}, caution, {3});
  }
}

// The same places in figures.
void MapDrawing::list(std::vector<MapMark> const& marks) {
  constexpr std::size_t columns = 5;
  constexpr double smallest_pitch_mm = 2.6, column_mm = 37;
  std::size_t const rows = (marks.size() + columns - 1) / columns;
  if (rows == 0) return;
  double const pitch_mm = std::min(4.2, (list_bottom_mm - list_top_mm) / static_cast<double>(rows));
  page_.text({left_mm, list_top_mm - 6}, "Rows of the sheet", {3.4, {}, true});
  if (pitch_mm < smallest_pitch_mm) {
    page_.text(
        {left_mm, list_top_mm}, "Too many to list here: their places stand in the sheet.", {3});
    return;
  }
  for (std::size_t i = 0; i < marks.size(); ++i) {
    MapMark const& mark = marks[i];
    Point const at = {left_mm + column_mm * static_cast<double>(i / rows),
                      list_top_mm + pitch_mm * static_cast<double>(i % rows)};
    page_.text(
        {at.x_mm + 5, at.y_mm}, fmt::format("{}", mark.number), {2.8, TextAnchor::end, true});
    page_.text({at.x_mm + 6.5, at.y_mm},
               fmt::format("trace {} at {:.1f} mm", mark.trace, mark.ruler_mm),
               {2.8});
  }
}

std::string MapDrawing::draw(std::vector<MapMark> const& marks) {
  head();
  sides();
  beads();
  for (testpiece::Wall const& each : piece_.walls) wall(each);
  ruler();
  arrows(marks);
  foot();
  list(marks);
  return page_.finish();
}

}  // namespace

std::string make_map(testpiece::TestPiece const& piece, std::vector<MapMark> const& marks) {
  return MapDrawing(piece).draw(marks);
}

}  // namespace meltlag::page
