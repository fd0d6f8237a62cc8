// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/hardware_piece.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "measure.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/test_piece.hpp"
#include "support/near.hpp"
#include "testpiece/piece_options.hpp"

using namespace meltlag;
namespace ref = meltlag_reference;

namespace {

testpiece::HardwareOptions hardware_options() { return {.piece = testpiece::bench_options()}; }

// What the file means, by a reader that shares nothing with the one that wrote it.
ref::HeadMotion motion_of(testpiece::HardwarePiece const& piece) {
  return ref::plan_motion(piece.gcode, {}, 1.75);
}

double distance_mm(ref::Point const& a, Vec3 const& b) {
  return std::hypot(a[0] - b.x, a[1] - b.y, a[2] - b.z);
}

std::string refusal(testpiece::HardwareOptions const& options) {
  try {
    (void)testpiece::make_hardware_piece(options);
  } catch (Error const& error) {
    return error.what();
  }
  return {};
}

}  // namespace

TEST_SUITE("testpiece") {
  TEST_CASE("the hardware piece has 24 beads of 30 mm, half of them medium and half fast") {
    testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(hardware_options());
    ref::HeadMotion const motion = motion_of(piece);
    REQUIRE(piece.beads.size() == 24);
    int medium = 0;
    for (testpiece::HardwareBead const& bead : piece.beads) {
      CAPTURE(bead.stop);
      ref::Move const& move =
          motion.program.moves[motion.find(static_cast<std::size_t>(bead.line))];
      CHECK(distance_mm(move.start_mm, bead.from) < 2e-3);
      CHECK(distance_mm(move.end_mm, bead.to) < 2e-3);
      CHECK_NEAR(move.length_mm, 30, 1e-3 /*mm*/);
      CHECK_NEAR(move.volume_mm3 / move.length_mm * move.feed_mm_s, bead.flow_mm3_s, 1e-3);
      bool const fast = std::abs(bead.flow_mm3_s - 8) < 0.1;
      CHECK((fast || std::abs(bead.flow_mm3_s - 4) < 0.1));
      medium += !fast;
    }
    CHECK(medium == 12);
  }

  TEST_CASE(
      "before each start lie a lead-in of the same flow, a retract, a travel and a recovery") {
    for (double const retract_mm : {1.0, 0.0}) {
      CAPTURE(retract_mm);
      testpiece::HardwareOptions options = hardware_options();
      options.retract_mm = retract_mm;
      testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(options);
      ref::HeadMotion const motion = motion_of(piece);
      auto const& moves = motion.program.moves;
      for (testpiece::HardwareBead const& bead : piece.beads) {
        CAPTURE(bead.stop);
        std::size_t at = motion.find(static_cast<std::size_t>(bead.line)), before = at;
        if (retract_mm > 0) CHECK_NEAR(moves[--before].e_mm, retract_mm, 1e-6 /*mm*/);
        double travel_mm = 0;
        for (int i = 0; i < 2; ++i) {
          CHECK(moves[--before].kind == ref::MoveKind::travel);
          travel_mm += moves[before].length_mm;
        }
        CHECK_NEAR(travel_mm, piece.travel_mm, 5e-3 /*mm*/);
        if (retract_mm > 0) CHECK_NEAR(moves[--before].e_mm, -retract_mm, 1e-6 /*mm*/);
        double lead_in_mm = 0;
        while (moves[--before].kind == ref::MoveKind::print &&
               lead_in_mm < piece.lead_in_mm - 0.1) {
          lead_in_mm += moves[before].length_mm;
          CHECK_NEAR(moves[before].feed_mm_s, bead.speed_mm_s, 1e-3 /*mm/s*/);
        }
        CHECK_NEAR(lead_in_mm, piece.lead_in_mm, 0.01 /*mm*/);
        CHECK(lead_in_mm > 60);
        if (retract_mm > 0) CHECK_NEAR(moves[at + 1].e_mm, -retract_mm, 1e-6 /*mm*/);
        if (retract_mm == 0) CHECK(moves[at + 1].kind == ref::MoveKind::travel);
      }
    }
  }

  TEST_CASE("the hardware piece fits 100 mm and the bed at all sizes of bead") {
    for (double const width_mm : {0.4, 1.0, 1.6}) {
      CAPTURE(width_mm);
      testpiece::HardwareOptions options = hardware_options();
      options.piece.bead_width_mm = width_mm;
      testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(options);
      CHECK(piece.high_mm.x - piece.low_mm.x <= 100 + 1e-9);
      CHECK(piece.high_mm.y - piece.low_mm.y <= 100 + 1e-9);
      ref::HeadMotion const motion = motion_of(piece);
      std::size_t const first = motion.find(static_cast<std::size_t>(piece.beads.front().line));
      for (std::size_t i = first; i < motion.program.moves.size(); ++i) {
        ref::Move const& move = motion.program.moves[i];
        CAPTURE(move.line);
        CHECK(move.end_mm[0] > piece.low_mm.x + width_mm / 2 - 1e-6);
        CHECK(move.end_mm[0] < piece.high_mm.x - width_mm / 2 + 1e-6);
        CHECK(move.end_mm[1] > piece.low_mm.y + width_mm / 2 - 1e-6);
        CHECK(move.end_mm[1] < piece.high_mm.y - width_mm / 2 + 1e-6);
      }
    }
    testpiece::HardwareOptions small = hardware_options();
    small.piece.bed_x_mm = 90;
    CHECK(refusal(small).find("does not fit") != std::string::npos);
  }

  TEST_CASE("no bead of the hardware piece runs through one that is measured") {
    testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(hardware_options());
    ref::HeadMotion const motion = motion_of(piece);
    for (ref::Move const& move : motion.program.moves) {
      if (move.kind != ref::MoveKind::print) continue;
      for (testpiece::HardwareBead const& bead : piece.beads) {
        if (move.line == static_cast<std::size_t>(bead.line)) continue;
        CAPTURE(move.line);
        CAPTURE(bead.stop);
        double nearest = 1e9;
        for (int i = 0; i <= 200; ++i) {
          ref::Point const at = move.at(i / 200.0);
          double const x = std::clamp(at[0], bead.from.x, bead.to.x);
          nearest = std::min(nearest, std::hypot(at[0] - x, at[1] - bead.from.y));
        }
        CHECK(nearest > piece.bead_width_mm);
      }
    }
  }

  TEST_CASE("in the form for a picture beads lie 3.5 mm from all others, within the page's disc") {
    testpiece::HardwareOptions options = hardware_options();
    options.for_picture = true;
    testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(options);
    CHECK(piece.lead_in_mm > 60);
    ref::HeadMotion const motion = motion_of(piece);
    REQUIRE(piece.beads.size() == 24);
    std::size_t const first = motion.find(static_cast<std::size_t>(piece.beads.front().line));
    for (testpiece::HardwareBead const& bead : piece.beads) {
      CAPTURE(bead.stop);
      CHECK(std::hypot(bead.to.x - 100, bead.to.y - 100) < 88);
      for (ref::Move const& move : motion.program.moves) {
        if (move.kind != ref::MoveKind::print) continue;
        if (move.line == static_cast<std::size_t>(bead.line)) continue;
        if (&move < &motion.program.moves[first - 8]) continue;  // purge, in front of the disc
        double nearest = 1e9;
        for (int i = 0; i <= 200; ++i) {
          ref::Point const at = move.at(i / 200.0);
          double const x = std::clamp(at[0], bead.from.x, bead.to.x);
          nearest = std::min(nearest, std::hypot(at[0] - x, at[1] - bead.from.y));
        }
        CAPTURE(move.line);
        CHECK(nearest > 3.5);
      }
    }
    auto const comment = testpiece::read_hardware_comment("; bead 7: 8.00 mm3/s");
    REQUIRE(comment);
    CHECK(comment->stop == 7);
    CHECK_NEAR(comment->flow_mm3_s, 8, 1e-12);
    CHECK_FALSE(testpiece::read_hardware_comment("; lead-in of bead 7: 8.00 mm3/s"));
    options.piece.bed_x_mm = 120;
    CHECK(refusal(options).find("for a picture does not fit") != std::string::npos);
  }

  TEST_CASE("the same options give the same bytes, another seed only another order of flows") {
    testpiece::HardwareOptions options = hardware_options();
    testpiece::HardwarePiece const one = testpiece::make_hardware_piece(options);
    CHECK(one.gcode == testpiece::make_hardware_piece(options).gcode);
    options.piece.seed = 2;
    testpiece::HardwarePiece const other = testpiece::make_hardware_piece(options);
    CHECK(one.gcode != other.gcode);
    CHECK_NEAR(one.wanted_mm3, other.wanted_mm3, 1e-6 /*mm³*/);
    CHECK_NEAR(one.planned_s, other.planned_s, 1 /*s*/);
    for (std::size_t i = 0; i < one.beads.size(); ++i) {
      CHECK(one.beads[i].from == other.beads[i].from);
      CHECK(one.beads[i].to == other.beads[i].to);
    }
  }

  TEST_CASE("the hardware piece keeps the limits of E and screw") {
    testpiece::HardwareOptions options = hardware_options();
    options.piece.max_flow_mm3_s = 15;
    testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(options);
    CHECK_NEAR(piece.retract_mm_s, 4.9, 1e-9);  // 0.8·15 mm³/s, rounded down to a tenth of E
    CHECK(std::ranges::any_of(piece.remarks, [](std::string const& remark) {
      return remark.find("greatest flow") != std::string::npos;
    }));
    for (ref::Move const& move : motion_of(piece).program.moves)
      if (move.kind == ref::MoveKind::e_only)
        CHECK(move.volume_mm3 / std::abs(move.e_mm) * move.feed_mm_s <= 15);
    options.retract_mm_s = 25;
    CHECK(refusal(options).find("60.1 mm³/s") != std::string::npos);
    options.piece.max_flow_mm3_s.reset();
    options.retract_mm_s = 61;
    CHECK(refusal(options).find("beyond what the E axis can do") != std::string::npos);
    options = hardware_options();
    options.retract_mm = 21;
    CHECK(refusal(options).find("between 0 and 20 mm") != std::string::npos);
    options = hardware_options();
    options.piece.start_code = "G28\nM221 S90\n";
    options.piece.end_code = "";
    CHECK(refusal(options).find("start code") != std::string::npos);
  }

  TEST_CASE("the sheet of the hardware piece has a row for each bead that says which it is") {
    std::string const sheet =
        testpiece::write_hardware_sheet(testpiece::make_hardware_piece(hardware_options()));
    CHECK(sheet.starts_with("stop,flow_mm3_s,blob_mm,bead_mm,gap_mm,note\n1,"));
    CHECK(std::ranges::count(sheet, '\n') == 25);
    CHECK(sheet.find(",,,,beside the number 5; layer 0.300 mm; retract 1 mm\n6,") !=
          std::string::npos);
    CHECK(sheet.find(",,,,3 behind the number 21; layer 0.300 mm; retract 1 mm\n") !=
          std::string::npos);
  }
}
