// SPDX-License-Identifier: MIT
// What the person gives: sizes, speeds, start and end code.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/test_piece.hpp"
#include "support/near.hpp"
#include "testpiece/piece_reading.hpp"

namespace meltlag::testpiece {
using namespace reading;
namespace {

std::string message_of(PieceOptions const& options) {
  try {
    static_cast<void>(make_test_piece(options));
  } catch (Error const& error) {
    CHECK(!error.hint().empty());
    return error.what();
  }
  return "";
}

TEST_SUITE("testpiece") {
  TEST_CASE("the file begins with cautions and facts, then the plain start") {
    TestPiece const piece = make_test_piece(bench_options());
    std::string const head = piece.gcode.substr(0, piece.gcode.find("M140 S60"));
    for (char const* const words : {"burn",
                                    "fumes",
                                    "Never leave the machine unattended",
                                    "data sheet",
                                    "height 0.300 mm",
                                    "width 1.000 mm",
                                    "purge before line one: 72.6 mm3"}) {
      CAPTURE(words);
      CHECK(head.find(words) != std::string::npos);
    }
    CHECK(head.find(fmt::format("without purge: {:.0f} mm3", piece.wanted_mm3)) !=
          std::string::npos);
    CHECK(head.find("\nG") == std::string::npos);
    CHECK(piece.gcode.find("M104 S205\nM190 S60\nM109 S205\nG28\n") != std::string::npos);
    CHECK(piece.gcode.find("G21\nG90\nM83\nG92 E0\n") != std::string::npos);
    std::string const end = "M104 S0\nM140 S0\nM84\n";
    CHECK(piece.gcode.find(end) == piece.gcode.size() - end.size());
    CHECK(std::all_of(piece.gcode.begin(), piece.gcode.end(), [](char c) {
      return c == '\n' || (c >= ' ' && c <= '~');
    }));
  }

  TEST_CASE("a person's own start and end code stand as given and the lines still count right") {
    PieceOptions options = bench_options();
    options.nozzle_c = 0;
    for (char const* const code : {"M104 S215\r\nG28 X Y\rG28 Z\r\nM82\nG1 E5 F100",
                                   "; heated by hand\n\n\nG28\n",
                                   "G28\nM201 X500 Y500\nM83"}) {
      CAPTURE(code);
      options.start_code = code;
      options.end_code = "M104 S0\nPARK_HEAD";
      TestPiece const piece = make_test_piece(options);
      CHECK(piece.gcode.find(code) != std::string::npos);
      CHECK(piece.gcode.find("M109") == std::string::npos);
      std::string const end = "end code as given\nM104 S0\nPARK_HEAD\n";
      CHECK(piece.gcode.find(end) == piece.gcode.size() - end.size());
      ReadBack const reading(piece.gcode, options);
      Section const& section = piece.walls[14].sections[0];
      gcode::Move const& move = reading.at(section.lines.back()).timed.move;
      CHECK_NEAR(move.end_mm.y, piece.walls[14].y_mm, 1e-3);
      CHECK_NEAR(move.end_mm.x - piece.ruler_zero_x_mm, section.to_mm, 1e-3);
    }
  }

  TEST_CASE("start code that changes the meaning of the lines is refused") {
    PieceOptions options = bench_options();
    for (char const* const code : {"M221 S90", "M220 S50", "M200 D2.85"}) {
      CAPTURE(code);
      options.start_code = code;
      CHECK(message_of(options).find("start code") != std::string::npos);
    }
  }

  TEST_CASE("options that cannot be printed are refused with what is wrong") {
    auto const message = [](auto change) {
      PieceOptions options = bench_options();
      change(options);
      return message_of(options);
    };
    auto const has = [](std::string const& text, char const* words) {
      CAPTURE(text);
      CHECK(text.find(words) != std::string::npos);
    };
    has(message([](PieceOptions& o) { o.bed_x_mm = 105; }), "does not fit");
    has(message([](PieceOptions& o) { o.bed_y_mm = 112; }), "does not fit");
    has(message([](PieceOptions& o) { o.nozzle_c = 0; }), "how hot");
    has(message([](PieceOptions& o) { o.bed_x_mm = NAN; }), "bed's size in X");
    has(message([](PieceOptions& o) { o.max_flow_mm3_s = 0; }), "greatest flow");
    has(message([](PieceOptions& o) { o.layer_height_mm = 0.9; }), "layer height");
    has(message([](PieceOptions& o) { o.layer_height_mm = 0; }), "layer height");
    has(message([](PieceOptions& o) { o.bead_width_mm = 3; }), "width");
    has(message([](PieceOptions& o) { o.layers = 1; }), "layers");
    has(message([](PieceOptions& o) { o.fast_mm_s = 400; }), "fast speed of 400.0 mm/s");
    has(message([](PieceOptions& o) {
          o.max_flow_mm3_s = 5;
          o.fast_mm_s = 30;
        }),
        "8.4 mm³/s");
    has(message([](PieceOptions& o) {
          o.min_speed_mm_s = 5;
          o.slow_mm_s = 3;
        }),
        "below the slowest");
    has(message([](PieceOptions& o) {
          o.slow_mm_s = 20;
          o.fast_mm_s = 25;
        }),
        "1.5 times slow");
    has(message([](PieceOptions& o) {
          o.slow_mm_s = 10;
          o.medium_mm_s = 9;
        }),
        "above the one before");
    has(message([](PieceOptions& o) {
          o.limits.max_speed_mm_s[3] = 1;
          o.fast_mm_s = 20;
        }),
        "beyond what X, Y or E can do");
    has(message([](PieceOptions& o) { o.e_mm_per_turn = 0; }), "one turn");
    has(message([](PieceOptions& o) { o.start_code = "G1 X1 Yoops"; }), "Yoops");
  }

  TEST_CASE("speeds left to choice stay below the screw's greatest flow, and that is said") {
    PieceOptions options = bench_options();
    options.max_flow_mm3_s = 5;
    TestPiece const piece = make_test_piece(options);
    double fastest = 0, slowest = 1e9;
    for (Wall const& wall : piece.walls) {
      for (Section const& section : wall.sections) {
        fastest = std::max(fastest, section.speed_mm_s);
        slowest = std::min(slowest, section.speed_mm_s);
      }
    }
    CHECK_CLOSE(fastest * piece.section_mm2, 4.0, 0.02);
    CHECK_CLOSE(slowest * piece.section_mm2, 0.5, 0.02);
    CHECK(says(piece.remarks, "greatest flow"));
    ReadBack const reading(piece.gcode, options);
    for (Part const& part : reading.parts()) {
      gcode::Move const& move = part.timed.move;
      if (move.kind == gcode::MoveKind::e_only) {
        CHECK(move.feed_mm_s * circle_area(1.75) <= 5);
      }
    }
  }

  TEST_CASE("what the printer's limits do to the steps is said") {
    PieceOptions options = bench_options();
    CHECK(make_test_piece(options).remarks.empty());
    options.limits.acceleration_mm_s2 = 40;
    options.limits.travel_acceleration_mm_s2 = 40;
    CHECK(says(make_test_piece(options).remarks, "slowest change of speed"));
    options = bench_options();
    options.limits.max_speed_mm_s = {300, 300, 20, 60};
    options.start_code = "M203 X20 Y20";
    CHECK(says(make_test_piece(options).remarks, "of the speed it is given"));
  }
}

}  // namespace
}  // namespace meltlag::testpiece
