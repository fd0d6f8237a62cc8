// SPDX-License-Identifier: MIT
// Where things stand, and how the layers lie to the turns of the screw.
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"
#include "support/near.hpp"
#include "testpiece/piece_reading.hpp"

namespace meltlag::testpiece {
using namespace reading;
namespace {

// Distance between two straight stretches seen from above.
double to_stretch(Vec3 p, gcode::Move const& move) {
  Vec3 const a = {move.start_mm.x, move.start_mm.y, 0}, b = {move.end_mm.x, move.end_mm.y, 0};
  Vec3 const d = b - a;
  double const part = dot(d, d) > 0 ? std::clamp(dot(p - a, d) / dot(d, d), 0.0, 1.0) : 0;
  return norm(p - (a + part * d));
}

double nearest_sampled(gcode::Move const& one, gcode::Move const& other) {
  double nearest = 1e9;
  for (int i = 0; i <= 50; ++i) {
    Vec3 const p = one.start_mm + (i / 50.0) * (one.end_mm - one.start_mm);
    nearest = std::min(nearest, to_stretch({p.x, p.y, 0}, other));
  }
  return nearest;
}

TEST_SUITE("testpiece") {
  TEST_CASE("all that stays on the bed fits 100 mm by 100 mm in its middle") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      CHECK(piece.low_mm.x >= 50);
      CHECK(piece.low_mm.y >= 50);
      CHECK(piece.high_mm.x <= 150);
      CHECK(piece.high_mm.y <= 150);
      ReadBack const reading(piece.gcode, options);
      double purge_mm3 = 0, wanted_mm3 = 0;
      for (Part const& part : reading.parts()) {
        gcode::Move const& move = part.timed.move;
        bool const purge = part.label == "purge";
        (purge ? purge_mm3 : wanted_mm3) += move.volume_mm3;
        if (move.kind != gcode::MoveKind::print) continue;
        for (Vec3 const& p : {move.start_mm, move.end_mm}) {
          CHECK(std::min({p.x, p.y, 200 - p.x, 200 - p.y}) >= options.margin_mm);
          if (purge) continue;
          CHECK(p.x > piece.low_mm.x);
          CHECK(p.x < piece.high_mm.x);
          CHECK(p.y > piece.low_mm.y);
          CHECK(p.y < piece.high_mm.y);
          CHECK(p.z <= piece.high_mm.z + 1e-9);
        }
      }
      CHECK_NEAR(purge_mm3, piece.purge_mm3, 1e-3);
      CHECK(purge_mm3 >= 60);
      CHECK_NEAR(wanted_mm3, piece.wanted_mm3, 0.05);
      CHECK_NEAR(reading.duration_s(), piece.planned_s, 1e-6);
    }
  }

  TEST_CASE("walls stand at least 4.5 mm apart, and swollen beads do not touch") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      // While the flow of the section before still comes, the bead is that much wider.
      double swollen = 1, before_mm_s = 0;
      for (Wall const& wall : piece.walls) {
        for (Section const& section : wall.sections) {
          swollen = std::max(swollen, before_mm_s / section.speed_mm_s);
          before_mm_s = section.speed_mm_s;
        }
      }
      for (std::size_t i = 1; i < piece.walls.size(); ++i) {
        double const pitch_mm = piece.walls[i].y_mm - piece.walls[i - 1].y_mm;
        CHECK(pitch_mm >= 4.5);
        CHECK(pitch_mm >= options.bead_width_mm * swollen + 0.2);
      }
    }
  }

  TEST_CASE("numbers, ruler and frame do not touch the fence") {
    for (PieceOptions const& options : builds()) {
      TestPiece const piece = make_test_piece(options);
      ReadBack const reading(piece.gcode, options);
      std::vector<gcode::Move> fence, low, frame;
      for (Part const& part : reading.parts()) {
        if (part.timed.move.kind != gcode::MoveKind::print) continue;
        if (in_layer(part, 1)) fence.push_back(part.timed.move);
        if (part.label == "ruler" || part.label == "numbers of the traces") {
          low.push_back(part.timed.move);
        }
        if (starts_with(part.label, "turn bead, layer 1")) frame.push_back(part.timed.move);
      }
      CHECK(fence.size() > 60);
      CHECK(low.size() > 100);
      for (gcode::Move const& wall : fence) {
        for (gcode::Move const& move : low) {
          // Beads at most 1.2 times as wide as the nominal one, strokes at most 0.9 mm wide.
          double const half_mm = 0.6 * options.bead_width_mm;
          CHECK(nearest_sampled(move, wall) >= half_mm + std::min(half_mm, 0.45) + 0.3);
        }
        for (gcode::Move const& move : frame) CHECK(nearest_sampled(wall, move) >= 4.5);
      }
    }
  }

  TEST_CASE("the head crosses the frame above it and nothing else is crossed by travel") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 20;
    TestPiece const piece = make_test_piece(options);
    ReadBack const reading(piece.gcode, options);
    double frame_top_mm = 0;
    int crossings = 0;
    bool fence_begun = false;
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (starts_with(part.label, "turn bead")) frame_top_mm = move.end_mm.z;
      fence_begun = fence_begun || starts_with(part.label, "trace");
      if (move.kind != gcode::MoveKind::travel || frame_top_mm == 0) continue;
      bool const level = move.start_mm.z == move.end_mm.z;
      if (level && part.label == "over the frame to its inside") {
        ++crossings;
        CHECK(move.start_mm.z >= frame_top_mm + 1.9);
      }
      // Once the fence grows, the head leaves its walls upward only, at the very end.
      if (fence_begun && part.label != "the test piece ends") {
        CHECK(move.start_mm.y == move.end_mm.y);
      }
      if (part.label == "the test piece ends") CHECK(move.end_mm.z > move.start_mm.z);
    }
    CHECK(crossings == 1);
    CHECK_NEAR(frame_top_mm, 1.5, 1e-9);
  }

  TEST_CASE(
      "a lap of the frame is a whole number of the screw's turns, five turns or more in all") {
    for (double const turn_mm : {1.0, 3.3, 8.0, 20.0, 31.7, 46.0, 70.0, 80.0}) {
      CAPTURE(turn_mm);
      PieceOptions options = bench_options();
      options.e_mm_per_turn = turn_mm;
      options.layers = 3;
      TestPiece const piece = make_test_piece(options);
      REQUIRE(piece.turn_bead);
      TurnBead const& bead = *piece.turn_bead;
      CHECK(bead.turns_per_layer == std::round(bead.turns_per_layer));
      CHECK(bead.turns >= 5);
      std::map<std::string, double> laps;
      std::set<long> flows;
      ReadBack const reading(piece.gcode, options);
      for (Part const& part : reading.parts()) {
        gcode::Move const& move = part.timed.move;
        if (!starts_with(part.label, "turn bead")) continue;
        laps[part.label] += move.e_mm;
        flows.insert(std::lround(move.volume_mm3 / move.length_mm * move.feed_mm_s * 100));
        double const bead_part = move.volume_mm3 / move.length_mm / piece.section_mm2;
        CHECK(bead_part >= 0.699);
        CHECK(bead_part <= 1.801);
      }
      CHECK(laps.size() >= 5);
      for (auto const& [label, e_mm] : laps) {
        CHECK_CLOSE(e_mm / turn_mm, bead.turns_per_layer, 1e-4);
      }
      CHECK(flows.size() <= 2);  // one flow, give or take the last digit written
    }
  }

  TEST_CASE("a turn too large for a lap is said and leaves the nominal bead") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 100;
    TestPiece const piece = make_test_piece(options);
    REQUIRE(piece.turn_bead);
    CHECK(says(piece.remarks, "not in step"));
    CHECK(piece.turn_bead->turns >= 5);
    CHECK_NEAR(
        piece.turn_bead->sections[0].e_mm_per_mm, piece.section_mm2 / circle_area(1.75), 1e-12);
  }

  TEST_CASE("the frame's sides carry lines of every lap, level and along X") {
    PieceOptions options = bench_options();
    options.e_mm_per_turn = 20;
    TestPiece const piece = make_test_piece(options);
    ReadBack const reading(piece.gcode, options);
    TurnBead const& bead = *piece.turn_bead;
    CHECK(bead.trace == 16);
    REQUIRE(bead.sections.size() == 2);
    for (std::size_t side = 0; side < 2; ++side) {
      Section const& section = bead.sections[side];
      REQUIRE(section.lines.size() == 5);
      for (std::int64_t const line : section.lines) {
        gcode::Move const& move = reading.at(line).timed.move;
        CHECK_NEAR(move.start_mm.x - piece.ruler_zero_x_mm, section.from_mm, 1e-3);
        CHECK_NEAR(move.end_mm.x - piece.ruler_zero_x_mm, section.to_mm, 1e-3);
        CHECK(move.start_mm.z == move.end_mm.z);
        CHECK_NEAR(move.end_mm.y, bead.corners[side == 0 ? 1 : 0].y, 1e-3);
      }
    }
  }

  TEST_CASE("the fence's layers do not keep step with a known turn") {
    for (double const turn_mm : {1.0, 2.0, 3.3, 5.0, 8.0}) {
      CAPTURE(turn_mm);
      PieceOptions options = bench_options();
      options.e_mm_per_turn = turn_mm;
      TestPiece const piece = make_test_piece(options);
      ReadBack const reading(piece.gcode, options);
      double e_mm = 0;
      for (Part const& part : reading.parts()) {
        if (in_layer(part, 4)) e_mm += part.timed.move.e_mm;
      }
      double const rest = e_mm / turn_mm - std::floor(e_mm / turn_mm);
      CHECK_NEAR(std::min(rest, 1 - rest), 0.382, 0.005);
    }
  }

  TEST_CASE("without a known turn the layers' volumes differ by up to 15 % of the return leg") {
    TestPiece const piece = make_test_piece(bench_options());
    ReadBack const reading(piece.gcode, bench_options());
    std::vector<double> volumes;
    for (int layer = 3; layer <= 20; ++layer) {
      double mm3 = 0;
      for (Part const& part : reading.parts()) {
        if (in_layer(part, layer)) mm3 += part.timed.move.volume_mm3;
      }
      volumes.push_back(mm3);
    }
    std::sort(volumes.begin(), volumes.end());
    double const leg_mm3 = piece.section_mm2 * (piece.loop[0].y - piece.loop[1].y);
    double const spread_mm3 = volumes.back() - volumes.front();
    CHECK(spread_mm3 <= 0.3 * leg_mm3);
    CHECK(spread_mm3 >= 0.24 * leg_mm3);
    for (std::size_t i = 1; i < volumes.size(); ++i) {
      CHECK(volumes[i] - volumes[i - 1] > 0.005 * leg_mm3);
    }
  }
}

}  // namespace
}  // namespace meltlag::testpiece
