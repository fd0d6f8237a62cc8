// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <string>

#include "gcode/program.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::gcode;

namespace {

constexpr double degree = std::numbers::pi / 180;

// Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3 (NISTIR 6556, National
// Institute of Standards and Technology, 2000), appendix C.1; a work of the United States
// government.
char const* const hello_world =
    R"((this program mills "Hello world" between X=0 and X=81 millimeters)
n0010 g21 g0 x0 y0 z50 (top of part should be on XY plane)
n0020 t1 m6 m3 f20 s4000 (use an engraver or small ball-nose endmill)
n0030 g0 x0 y0 z2
n0040 g1 z-0.5 (start H)
n0050 y10
n0060 g0 z2
n0070 y5
n0080 g1 z-0.5
n0090 x 7
n0100 g0 z2
n0110 y0
n0120 g1 z-0.5
n0130 y10
n0140 g0 z2
n0150 x11 y2.5
n0160 g1 z-0.5 (start e)
n0170 x16
n0190 g3 x13.5 y0 i-2.5
n0200 g1 x16
n0210 g0 z2
n0220 x20 y0
n0230 g1 z-0.5 (start l)
n0240 y9
n0250 g0 z2
n0260 x26
n0270 g1 z-0.5 (start l)
n0280 y0
n0290 g0 z2
n0300 x32.5
n0310 g1 z-0.5 (start o)
n0320 g2 x32.5 j2.5
n0330 g0 z2
n0340 x45 y5
n0350 g1 z-0.5 (start w)
n0360 x47 y0
n0370 x48.5 y3
n0380 x50 y0
n0390 x52 y5
n0400 g0 z2
n0410 x57.5 y0
n0420 g1 z-0.5 (start o)
n0430 g2 x57.5 j2.5
n0440 g0 z2
n0450 x64
n0460 g1 z-0.5 (start r)
n0470 y5
n0480 y4
n0490 g2 x69 r4
n0500 g0 z2
n0510 x73 y0
n0520 g1 z-0.5 (start l)
n0530 y9
n0540 g0 z2
n0550 x81
n0560 g1 z-0.5 (start d)
n0570 y0
n0580 x79.5
n0590 g2 j2.5 y5
n0600 g1 x81
n0610 g0 z50
n0620 m2
)";

// The only move of `text` that is an arc.
Move arc_of(std::string const& text) {
  auto const program = run(text);
  for (Move const& move : program.moves) {
    if (move.arc.radius_mm > 0) return move;
  }
  FAIL("no arc in the program");
  return {};
}

void check_point(Vec3 actual, Vec3 expected, double tolerance_mm) {
  CHECK_NEAR(actual.x, expected.x, tolerance_mm);
  CHECK_NEAR(actual.y, expected.y, tolerance_mm);
  CHECK_NEAR(actual.z, expected.z, tolerance_mm);
}

}  // namespace

TEST_SUITE("gcode") {
  // Centres, sweeps and lengths derived by hand from the report's program.
  TEST_CASE("the arcs of the report's sample program have their centres, sweeps and lengths") {
    struct Row {
      double centre_x, centre_y, sweep_deg, length_mm;
    };
    Row const rows[] = {{13.5, 2.5, 270, 11.7810},
                        {32.5, 2.5, -360, 15.7080},
                        {57.5, 2.5, -360, 15.7080},
                        {66.5, 0.8775, -77.364, 5.4011},
                        {79.5, 2.5, -180, 7.8540}};
    auto const program = run(hello_world);
    std::size_t found = 0;
    for (Move const& move : program.moves) {
      if (move.arc.radius_mm == 0) continue;
      REQUIRE(found < std::size(rows));
      Row const& row = rows[found++];
      CAPTURE(row.centre_x);
      CHECK_NEAR(move.arc.centre_a_mm, row.centre_x, 1e-4);
      CHECK_NEAR(move.arc.centre_b_mm, row.centre_y, 1e-4);
      CHECK_NEAR(move.arc.sweep_rad / degree, row.sweep_deg, 1e-3);
      CHECK_NEAR(move.length_mm, row.length_mm, 1e-4);
    }
    CHECK(found == std::size(rows));
  }

  // Lengths and box of the same program, derived by hand; the box agrees with a published reading
  // of it in inches, 3.1890 x 0.3937 x 1.9882.
  TEST_CASE("the report's sample program has its lengths and its bounding box") {
    auto const program = run(hello_world);
    double rapid = 0, straight = 0, arcs = 0;
    Vec3 low{1e9, 1e9, 1e9}, high{-1e9, -1e9, -1e9};
    for (Move const& move : program.moves) {
      (move.rapid ? rapid : move.arc.radius_mm > 0 ? arcs : straight) += move.length_mm;
      for (int i = 0; i <= 200; ++i) {
        if (move.line == 2 && i < 200) continue;  // the way to the first point is outside the part
        Vec3 const p = point_at(move, move.length_mm * i / 200);
        low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
        high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
      }
    }
    CHECK_NEAR(rapid, 252.053, 1e-3);
    CHECK_NEAR(straight, 126.979, 1e-3);
    CHECK_NEAR(arcs, 56.4519, 1e-4);
    CHECK_NEAR(rapid + straight + arcs, 435.483, 1e-3);
    check_point(low, {0, 0, -0.5}, 1e-6);
    check_point(high, {81, 10, 50}, 1e-6);
    CHECK(program.e_mode_never_stated == false);
    CHECK(program.noted("off its circle") == 0);
  }

  // Same report, 3.5.3.2: from (7,7) the centre is (10,11), the radius 5.
  TEST_CASE("a helix by its centre as in the report's example") {
    auto const move = arc_of("G0 x7 y7 z1\nG17 G2 x 10 y 16 i 3 j 4 z 9\n");
    CHECK_NEAR(move.arc.centre_a_mm, 10, 1e-12);
    CHECK_NEAR(move.arc.centre_b_mm, 11, 1e-12);
    CHECK_NEAR(move.arc.radius_mm, 5, 1e-12);
    CHECK(move.arc.sweep_rad < 0);
    CHECK_CLOSE(move.length_mm, std::hypot(5 * move.arc.sweep_rad, 8.0), 1e-12);
    check_point(point_at(move, move.length_mm), {10, 16, 9}, 1e-12);
    CHECK_NEAR(point_at(move, move.length_mm / 4).z, 3, 1e-12);
  }

  // Same report, 3.5.3.1: "G17 G2 x 10 y 15 r 20 z 5", a clockwise arc of radius 20.
  TEST_CASE("a helix by its radius as in the report's example") {
    auto const move = arc_of("G0 X1 Y2\nG17 G2 x 10 y 15 r 20 z 5\n");
    CHECK_NEAR(move.arc.radius_mm, 20, 1e-9);
    CHECK(move.arc.sweep_rad < 0);
    CHECK(move.arc.sweep_rad > -std::numbers::pi);
    check_point(move.end_mm, {10, 15, 5}, 1e-12);
    CHECK_NEAR(std::hypot(10 - move.arc.centre_a_mm, 15 - move.arc.centre_b_mm), 20, 1e-9);
  }

  // Same report, table 10: from (3,1,0), "g2 x0 r 7.01 z0.5" ends at (0,1) about (1.5, 7.8476).
  TEST_CASE("the arc of the report's session has its centre") {
    auto const move = arc_of("g1 x3 y1 f20.0\ng2 x0 r 7.01 z0.5\n");
    CHECK_NEAR(move.arc.centre_a_mm, 1.5, 1e-9);
    CHECK_NEAR(move.arc.centre_b_mm, 7.8476, 1e-4);
    CHECK_NEAR(move.arc.centre_b_mm, 1 + std::sqrt(7.01 * 7.01 - 1.5 * 1.5), 1e-12);
    CHECK(move.arc.sweep_rad < 0);
    check_point(move.end_mm, {0, 1, 0.5}, 1e-12);
  }

  // Same report, 3.5.3.1: R < 0 is the arc of 180 to 359.999 degrees.
  TEST_CASE("a negative radius takes the long way round") {
    auto const minor = arc_of("G0 X10 Y0\nG3 X0 Y10 R10\n");
    auto const major = arc_of("G0 X10 Y0\nG3 X0 Y10 R-10\n");
    CHECK_NEAR(minor.arc.sweep_rad / degree, 90, 1e-9);
    CHECK_NEAR(major.arc.sweep_rad / degree, 270, 1e-9);
    check_point({minor.arc.centre_a_mm, minor.arc.centre_b_mm, 0}, {0, 0, 0}, 1e-9);
    check_point({major.arc.centre_a_mm, major.arc.centre_b_mm, 0}, {10, 10, 0}, 1e-9);
  }

  TEST_CASE("an end that is the start makes a full circle, with or without end words") {
    for (char const* text : {"G0 X10 Y5\nG2 X10 Y5 I-3\n",
                             "G0 X10 Y5\nG2 I-3\n",
                             "G0 X10 Y5\nG91\nG2 I-3\n",
                             "G0 X10 Y5\nG2 X10 I-3 E1\n"}) {
      CAPTURE(text);
      auto const move = arc_of(text);
      CHECK_NEAR(move.arc.sweep_rad / degree, -360, 1e-9);
      CHECK_NEAR(move.length_mm, 6 * std::numbers::pi, 1e-9);
    }
    auto const helix = arc_of("G0 X10 Y5\nG3 J2 Z3\n");
    CHECK_NEAR(helix.arc.sweep_rad / degree, 360, 1e-9);
    CHECK_NEAR(helix.length_mm, std::hypot(4 * std::numbers::pi, 3.0), 1e-9);
  }

  // Same report, 3.5.17: I and J are always increments; 2.1.2.6: feed applies along the helix.
  TEST_CASE("I and J count from the start in absolute and in relative mode") {
    auto const absolute = arc_of("G0 X20 Y20\nG90\nG3 X18 Y22 I-2 J0\n");
    auto const relative = arc_of("G0 X20 Y20\nG91\nG3 X-2 Y2 I-2 J0\n");
    for (Move const& move : {absolute, relative}) {
      check_point({move.arc.centre_a_mm, move.arc.centre_b_mm, 0}, {18, 20, 0}, 1e-12);
      CHECK_NEAR(move.arc.sweep_rad / degree, 90, 1e-9);
    }
  }

  // Same report, 3.5.3: turning is seen from the positive end of the third axis.
  TEST_CASE("arcs lie in the plane that was chosen") {
    auto const zx = arc_of("G0 X10 Z0\nG18\nG2 X0 Z10 I-10 K0\n");
    CHECK(zx.arc.axis_a == 2);
    CHECK(zx.arc.axis_b == 0);
    CHECK_NEAR(zx.arc.sweep_rad / degree, -90, 1e-9);
    check_point(point_at(zx, zx.length_mm / 2), {std::sqrt(50), 0, std::sqrt(50)}, 1e-9);
    auto const yz = arc_of("G0 Y10 Z0\nG19\nG3 Y0 Z10 J-10 X2\n");
    CHECK(yz.arc.axis_a == 1);
    CHECK_NEAR(yz.arc.sweep_rad / degree, 90, 1e-9);
    check_point(point_at(yz, yz.length_mm / 2), {1, std::sqrt(50), std::sqrt(50)}, 1e-9);
    auto const xy = arc_of("G18\nG17\nG0 X10\nG3 X0 Y10 I-10\n");
    CHECK(xy.arc.axis_a == 0);
  }

  TEST_CASE("inches apply to the offsets and to the radius") {
    auto const centre = arc_of("G20\nG0 X1\nG3 X0 Y1 I-1\n");
    CHECK_NEAR(centre.arc.radius_mm, 25.4, 1e-9);
    auto const radius = arc_of("G20\nG0 X1\nG3 X0 Y1 R1\n");
    CHECK_NEAR(radius.arc.radius_mm, 25.4, 1e-9);
  }

  TEST_CASE("an end off the circle is reached at its stated point, with a notice") {
    auto const program = run("G0 X10 Y0\nG3 X0 Y10.5 I-10\nG1 X0 Y0\n");
    CHECK(program.noted("off its circle") == 1);
    REQUIRE(program.moves.size() == 3);
    Move const& arc = program.moves[1];
    check_point(arc.end_mm, {0, 10.5, 0}, 1e-12);
    check_point(point_at(arc, arc.length_mm), {0, 10.5, 0}, 1e-12);
    check_point(point_at(arc, arc.length_mm * (1 - 1e-9)), {0, 10.5, 0}, 1e-6);
    check_point(point_at(arc, 0), {10, 0, 0}, 1e-12);
    check_point(program.moves[2].start_mm, {0, 10.5, 0}, 1e-12);
    auto const short_radius = run("G0 X10 Y0\nG3 X0 Y0 R4\n");
    CHECK(short_radius.noted("off its circle") == 1);
    CHECK_NEAR(short_radius.moves[1].arc.radius_mm, 5, 1e-12);
  }

  // Same report, 3.5.3.2: radii may differ by 0.002 mm. Rounding to three places stays below it.
  TEST_CASE("rounded ends are not called off the circle") {
    std::mt19937 random(11);
    std::uniform_real_distribution<double> angle(0, 2 * std::numbers::pi), radius(0.5, 80);
    std::string text = "G0 X100 Y100\n";
    double x = 100, y = 100;
    auto const rounded = [](double v) { return std::round(v * 1000) / 1000; };
    for (int i = 0; i < 2000; ++i) {
      double const r = radius(random), from = angle(random), to = from + 0.1 + angle(random) * 0.9;
      double const i_word = rounded(-r * std::cos(from)), j_word = rounded(-r * std::sin(from));
      x = rounded(x - r * std::cos(from) + r * std::cos(to));
      y = rounded(y - r * std::sin(from) + r * std::sin(to));
      text += "G3 X" + std::to_string(x) + " Y" + std::to_string(y) + " I" +
              std::to_string(i_word) + " J" + std::to_string(j_word) + "\n";
    }
    auto const program = run(text);
    CHECK(program.moves.size() == 2001);
    CHECK(program.noted("off its circle") == 0);
  }

  TEST_CASE("an arc without a radius is a straight move, with a notice") {
    auto const program = run("G0 X1 Y1\nG2 X5 Y1 I0 J0\nG2 X5 Y1 Z2 R3\n");
    CHECK(program.noted("without a radius") == 2);
    REQUIRE(program.moves.size() == 3);
    CHECK(program.moves[1].arc.radius_mm == 0);
    CHECK_NEAR(program.moves[1].length_mm, 4, 1e-12);
    CHECK_NEAR(program.moves[2].length_mm, 2, 1e-12);
  }

  TEST_CASE("F or E alone after an arc is no arc") {
    auto const program = run("M83\nG0 X10\nG3 X0 Y10 I-10 E1\nG3 F900\nE-2\n");
    REQUIRE(program.moves.size() == 3);
    CHECK(program.moves[2].kind == MoveKind::e_only);
    CHECK_NEAR(program.moves[2].feed_mm_s, 15, 1e-12);
  }

  TEST_CASE("points and directions along an arc agree with each other and with its length") {
    for (char const* text : {"G0 X10\nG3 X-3 Y9.3 I-10 Z4\n",
                             "G0 X10\nG2 X-3 Y9.539 R10\n",
                             "G0 X10\nG3 X0 Y10.5 I-10\n",
                             "G0 X10 Z1\nG18\nG3 X0 Z11 I-10 Y3\n"}) {
      CAPTURE(text);
      auto const move = arc_of(text);
      constexpr int steps = 20'000;
      double length = 0;
      for (int i = 0; i < steps; ++i) {
        double const s = move.length_mm * i / steps, h = move.length_mm / steps;
        Vec3 const chord = point_at(move, s + h) - point_at(move, s);
        length += norm(chord);
        if (i % 1000 != 500) continue;
        Vec3 const direction = direction_at(move, s + h / 2);
        CHECK_NEAR(norm(direction), 1, 1e-12);
        check_point((1 / norm(chord)) * chord, direction, 1e-6);
      }
      CHECK_CLOSE(length, move.length_mm, 2e-4);
    }
  }

  TEST_CASE("points and directions along a straight move") {
    auto const program = run("G1 X3 Y4 E1\nG1 E2\n");
    REQUIRE(program.moves.size() == 2);
    check_point(point_at(program.moves[0], 2.5), {1.5, 2, 0}, 1e-12);
    check_point(point_at(program.moves[0], 99), {3, 4, 0}, 0);
    check_point(point_at(program.moves[0], -1), {0, 0, 0}, 0);
    check_point(direction_at(program.moves[0], 1), {0.6, 0.8, 0}, 1e-12);
    check_point(direction_at(program.moves[1], 0), {0, 0, 0}, 0);
  }
}
