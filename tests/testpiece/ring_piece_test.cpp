// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/ring_piece.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/reading/printed_path.hpp"
#include "meltlag/testpiece/ring_page.hpp"
#include "testpiece/piece_options.hpp"

namespace meltlag::testpiece {
using namespace reading;
namespace {

PieceOptions ring_bench() {
  PieceOptions options = bench_options();
  options.max_flow_mm3_s = 10;
  return options;
}

PrintedPath path_of(RingPiece const& piece, PieceOptions const& options) {
  Notices notices;
  return read_path(gcode::LineSource::from_text(piece.gcode, "rings.gcode"),
                   {.slicer_diameter_mm = options.slicer_diameter_mm, .limits = options.limits},
                   notices);
}

TEST_CASE("rings of a usual bed: six metres in less than eight minutes, within 88 mm") {
  PieceOptions const options = ring_bench();
  RingPiece const piece = make_ring_piece(options);
  CHECK(piece.planned_s <= 480);
  CHECK(piece.length_mm > 5500);
  CHECK(piece.radii_mm.front() == doctest::Approx(88));
  CHECK(piece.copies == 3);
  CHECK(piece.purge_mm3 >= 60);
  PrintedPath const path = path_of(piece, options);
  double farthest = 0, slowest_share = 1;
  for (PathMove const& move : path.moves) {
    if (move.timed.move.kind != gcode::MoveKind::print) continue;
    farthest = std::max(farthest, norm(move.timed.move.end_mm - piece.centre_mm));
    // Chords of a ring do not slow the head; only radial steps may.
    if (move.straight_to_mm - move.straight_from_mm > 20)
      slowest_share =
          std::min(slowest_share, move.timed.speed.peak_mm_s / move.timed.move.feed_mm_s);
  }
  CHECK(farthest < 88.01);
  CHECK(slowest_share > 0.3);
  CHECK(path.rests.size() <= 3);  // heating and homing: no stop over paper while hot
  for (PathRest const& rest : path.rests) CHECK(rest.unknown_length);
}

TEST_CASE("every group stands at three places apart in time, in an order that the seed decides") {
  RingPiece const piece = make_ring_piece(ring_bench());
  std::map<std::string, std::map<int, double>> places;
  for (RingStretch const& stretch : piece.stretches)
    if (stretch.copy > 0) places[stretch.group].try_emplace(stretch.copy, stretch.from_mm);
  for (char const* group :
       {"small step", "medium step", "large step", "run out", "short retracts", "steady"}) {
    CAPTURE(group);
    REQUIRE(places[group].size() == 3);
    CHECK(places[group][2] - places[group][1] > 150);
    CHECK(places[group][3] - places[group][2] > 150);
  }
  PieceOptions other = ring_bench();
  other.seed = 2;
  CHECK(make_ring_piece(other).gcode != piece.gcode);
  CHECK(make_ring_piece(ring_bench()).gcode == piece.gcode);
}

TEST_CASE("steady stretches at 0.8, 1 and 1.25 of E per mm; bursts rise above the greatest flow") {
  RingPiece const piece = make_ring_piece(ring_bench());
  std::set<int> shares;
  double usual = 0, last_mm = 0;
  for (RingStretch const& stretch : piece.stretches)
    if (stretch.group == "lead-in") usual = stretch.e_mm_per_mm;
  REQUIRE(usual > 0);
  for (RingStretch const& stretch : piece.stretches) {
    if (stretch.group == "steady")
      shares.insert(static_cast<int>(std::lround(100 * stretch.e_mm_per_mm / usual)));
    if (stretch.about.starts_with("burst")) {
      CHECK(stretch.speed_mm_s * piece.section_mm2 > 1.2 * 10);
      double const length = stretch.to_mm - stretch.from_mm;
      CHECK(length > last_mm);
      last_mm = length;
    }
  }
  CHECK(shares == std::set<int>{80, 100, 125});
  CHECK(last_mm > 100);
}

TEST_CASE("no change of speed lies near a radial step, but where the screw stands") {
  RingPiece const piece = make_ring_piece(ring_bench());
  for (std::size_t i = 0; i + 1 < piece.stretches.size(); ++i) {
    RingStretch const& stretch = piece.stretches[i];
    CHECK(stretch.to_mm == doctest::Approx(piece.stretches[i + 1].from_mm));
    CHECK_FALSE(stretch.lines.empty());
  }
}

TEST_CASE("a small bed takes fewer rings and tells what that costs") {
  PieceOptions small = ring_bench();
  small.bed_x_mm = small.bed_y_mm = 130;
  RingPiece const piece = make_ring_piece(small);
  CHECK(piece.radii_mm.front() < 60);
  CHECK(piece.copies < 3);
  CHECK(piece.wider > 1.2);
  CHECK(std::any_of(piece.remarks.begin(), piece.remarks.end(), [](std::string const& remark) {
    return remark.find("times that of a whole piece") != std::string::npos;
  }));
  small.bed_x_mm = small.bed_y_mm = 60;
  CHECK_THROWS_AS((void)make_ring_piece(small), Error);
}

TEST_CASE("a slow screw's piece still ends within eight minutes") {
  PieceOptions slow = ring_bench();
  slow.max_flow_mm3_s = 3;
  RingPiece const piece = make_ring_piece(slow);
  CHECK(piece.planned_s <= 480);
  CHECK(piece.copies >= 1);
}

TEST_CASE("the page has 22 marks, four of them unlike") {
  std::vector<PageMark> const marks = page_marks();
  CHECK(marks.size() == 22);
  std::multiset<int> holes;
  for (PageMark const& mark : marks) {
    holes.insert(mark.holes);
    CHECK((std::abs(mark.x_mm) > ring_page::field_radius_mm + 3 ||
           std::abs(mark.y_mm) > ring_page::field_radius_mm + 3));
  }
  for (int corner = 1; corner <= 4; ++corner) CHECK(holes.count(corner) == 1);
}

}  // namespace
}  // namespace meltlag::testpiece
