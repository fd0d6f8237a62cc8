// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <string>

#include "gcode/program.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::gcode;

namespace {

double const filament_mm2 = std::numbers::pi * 1.75 * 1.75 / 4;

void check_end(Move const& move, Vec3 expected) {
  CHECK_NEAR(move.end_mm.x, expected.x, 1e-9);
  CHECK_NEAR(move.end_mm.y, expected.y, 1e-9);
  CHECK_NEAR(move.end_mm.z, expected.z, 1e-9);
}

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("a printing move carries its length, volume, speed and words") {
    auto const program = run("M104 S205\nM83\nG1 X3 Y4 E0.5 F1200\n");
    REQUIRE(program.moves.size() == 1);
    Move const& move = program.moves[0];
    CHECK(move.line == 3);
    CHECK(move.kind == MoveKind::print);
    CHECK_NEAR(move.length_mm, 5, 1e-12);
    CHECK_NEAR(move.e_mm, 0.5, 1e-12);
    CHECK_NEAR(move.volume_mm3, 0.5 * filament_mm2, 1e-12);
    CHECK_NEAR(move.feed_mm_s, 20, 1e-12);
    CHECK(move.feed_written);
    CHECK(move.feed_word == 1200);
    CHECK(move.nozzle_c == 205);
    CHECK(move.rewritable);
    CHECK_FALSE(move.rapid);
    CHECK(program.roles[2] == LineRole::motion);
    CHECK(program.notices.empty());
  }

  TEST_CASE("kinds of move by what moves") {
    auto const program =
        run("M83\nG0 X1\nG1 X2 E1\nG1 X3 E-1\nG1 E-1\nG1 E1 F300\nG1 X3\nG1 F900\nG1\nG1 X4 E0\n");
    REQUIRE(program.moves.size() == 6);
    MoveKind const kinds[] = {MoveKind::travel,
                              MoveKind::print,
                              MoveKind::unprint,
                              MoveKind::e_only,
                              MoveKind::e_only,
                              MoveKind::travel};
    for (std::size_t i = 0; i < 6; ++i) CHECK(program.moves[i].kind == kinds[i]);
    CHECK(program.moves[0].rapid);
    CHECK(program.moves[5].feed_mm_s == 15);
    CHECK_FALSE(program.moves[5].feed_written);
    CHECK(program.roles == std::vector<LineRole>{LineRole::other,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion,
                                                 LineRole::motion});
  }

  TEST_CASE("E on a move whose X and Y do not change is a turn of the screw alone") {
    auto const program = run("M83\nG1 X5 Y5\nG1 X5 Y5 E0.3\n");
    CHECK(program.moves.at(1).kind == MoveKind::e_only);
    CHECK(program.moves.at(1).length_mm == 0);
  }

  // Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3 (NISTIR 6556, 2000), 3.1:
  // "G1 X3" is a straight feed to X = 3, other axes unchanged; 3.3.7: axis words alone repeat it.
  TEST_CASE("axis words alone continue the last motion code") {
    auto const program = run("G1 X1 Y2 Z3\nG1 X3\nY5\nG0 Z1\nX0Y0\nG91\nx1 f600\nE2 F60\n");
    REQUIRE(program.moves.size() == 7);
    check_end(program.moves[1], {3, 2, 3});
    check_end(program.moves[2], {3, 5, 3});
    CHECK_FALSE(program.moves[2].rapid);
    CHECK(program.moves[4].rapid);
    check_end(program.moves[5], {1, 0, 1});
    CHECK(program.moves[5].feed_mm_s == 10);
    CHECK(program.moves[6].kind == MoveKind::e_only);
    CHECK(program.roles[2] == LineRole::motion);
    CHECK(program.roles[6] == LineRole::motion);
    CHECK(program.moves[2].rewritable);
  }

  // Same report, 3.3.6: words may be permuted freely.
  TEST_CASE("words may stand in any order") {
    auto const program = run("M83\nG1 F1800 E1 Y2 X1\nX2 Y4 E1 G1\nG0 G90 X7\nX8 G91\n");
    REQUIRE(program.moves.size() == 4);
    check_end(program.moves[0], {1, 2, 0});
    CHECK(program.moves[0].feed_mm_s == 30);
    CHECK(program.moves[0].rewritable);
    check_end(program.moves[1], {2, 4, 0});
    check_end(program.moves[2], {7, 4, 0});
    check_end(program.moves[3], {15, 4, 0});
    CHECK_FALSE(program.moves[3].rewritable);
  }

  TEST_CASE("before any F the speed is 1500 mm/min, and F of zero is ignored") {
    auto const program = run("G1 X1\nG1 X2 F0.0\nG1 X3 F600\nF0\nG1 X4\n");
    CHECK(program.moves[0].feed_mm_s == 25);
    CHECK(program.moves[1].feed_mm_s == 25);
    CHECK(program.moves[2].feed_mm_s == 10);
    CHECK(program.moves[3].feed_mm_s == 10);
    CHECK(program.noted("F of zero") == 2);
    CHECK(program.roles[3] == LineRole::motion);
  }

  TEST_CASE("F alone on a line and F before X stay in force") {
    auto const program = run("F1200\nG1 X1\nG1 F2400\nG1 F600 X2\n");
    REQUIRE(program.moves.size() == 2);
    CHECK(program.moves[0].feed_mm_s == 20);
    CHECK(program.moves[1].feed_mm_s == 10);
  }

  TEST_CASE("E is absolute until M83, and G92 E sets its register") {
    auto const program =
        run("M82\nG1 X1 E2\nG1 X2 E5\nG92 E0\nG1 X3 E1\nM83\nG1 X4 E1\nM82\nG1 X5 E3\n");
    double const wanted[] = {2, 3, 1, 1, 1};
    REQUIRE(program.moves.size() == 5);
    for (std::size_t i = 0; i < 5; ++i) CHECK_NEAR(program.moves[i].e_mm, wanted[i], 1e-12);
    CHECK_FALSE(program.moves[0].write.e_relative);
    CHECK(program.moves[3].write.e_relative);
    CHECK_NEAR(program.moves[1].write.e_word_start, 2, 1e-12);
    CHECK_NEAR(program.moves[1].write.e_word_end, 5, 1e-12);
    CHECK_NEAR(program.e_register_word, 3, 1e-12);
    CHECK_FALSE(program.e_mode_never_stated);
  }

  TEST_CASE("E is relative under G91 as well, and G90 does not end M83") {
    char const* const text = "G91\nG1 X1 E1\nG1 X1 E1\nG90\nG1 X9 E3\nM83\nG91\nG90\nG1 X8 E1\n";
    auto const covered = run(text);
    double const wanted[] = {1, 1, 1, 1};
    for (std::size_t i = 0; i < 4; ++i) CHECK_NEAR(covered.moves.at(i).e_mm, wanted[i], 1e-12);
    auto const uncovered =
        run(text, {.slicer_diameter_mm = 1.75, .g91_covers_e = false, .file_name = "x"});
    double const other[] = {1, 0, 2, 1};
    for (std::size_t i = 0; i < 4; ++i) CHECK_NEAR(uncovered.moves.at(i).e_mm, other[i], 1e-12);
    CHECK(uncovered.moves[0].write.xyz_relative);
    CHECK_FALSE(uncovered.moves[0].write.e_relative);
  }

  TEST_CASE("end code that relies on G91 retracts") {
    auto const program = run("M82\nG1 X5 E40\nG91\nG1 E-1 F300\nG1 Z5\nG90\nG1 X0\n");
    CHECK(program.moves[1].kind == MoveKind::e_only);
    CHECK_NEAR(program.moves[1].e_mm, -1, 1e-12);
    CHECK_NEAR(program.e_register_word, 39, 1e-12);
  }

  TEST_CASE("a file under G91 whose E keeps rising gets a hint") {
    std::string rising = "G91\n", level = "G91\n", stated = "M83\nG91\n";
    for (int i = 1; i <= 60; ++i) {
      rising += "G1 X0.5 E" + std::to_string(i) + "\n";
      level += "G1 X0.5 E" + std::to_string(1 + i % 5) + "\n";
      stated += "G1 X0.5 E" + std::to_string(i) + "\n";
    }
    CHECK(run(rising).noted("g91_covers_e = false") == 1);
    CHECK(run(level).noted("g91_covers_e") == 0);
    CHECK(run(stated).noted("g91_covers_e") == 0);
  }

  TEST_CASE("an E mode that is never stated is reported") {
    CHECK(run("G1 X1 E1\nM83\n").e_mode_never_stated);
    CHECK(run("G1 X1 E1\n").noted("neither M82 nor M83") == 1);
    CHECK(run("G91\nG1 X1 E1\n").noted("because of G91") == 1);
    CHECK_FALSE(run("M83\nG1 X1 E1\n").e_mode_never_stated);
    CHECK_FALSE(run("G1 X1\n").e_mode_never_stated);
  }

  TEST_CASE("inches apply to axes, E and F, and the words to write follow") {
    auto const program = run("M83\nG20\nG1 X1 Y2 E0.5 F60\nG21\nG1 X26.4\n");
    Move const& move = program.moves.at(0);
    check_end(move, {25.4, 50.8, 0});
    CHECK_NEAR(move.e_mm, 12.7, 1e-12);
    CHECK_NEAR(move.feed_mm_s, 25.4, 1e-12);
    CHECK_NEAR(move.feed_word, 60, 1e-12);
    CHECK_NEAR(move.write.mm_per_unit, 25.4, 0);
    CHECK_NEAR(move.e_mm * move.write.e_words_per_mm, 0.5, 1e-12);
    CHECK_NEAR(program.moves.at(1).length_mm, std::hypot(1, 0), 1e-9);
    CHECK_NEAR(program.moves[1].feed_word, 1524, 1e-9);
  }

  // Same report, 3.5.18: from X = 4 "G92 x7" makes the offset -3, then "G92 x9" makes it -5.
  TEST_CASE("G92 renames the point, and offsets add up as in the report") {
    auto const program = run("G1 X4\nG92 x7\nG1 X8\nG1 X7\nG92 x9\nG1 X9 Y1\nG92.1\nG1 X4 Y2\n");
    REQUIRE(program.moves.size() == 5);
    CHECK_NEAR(program.moves[1].start_mm.x, 7, 1e-12);
    CHECK_NEAR(program.moves[1].origin_mm.x, -3, 1e-12);
    CHECK_NEAR(program.moves[3].origin_mm.x, -5, 1e-12);
    CHECK(program.moves[3].origin_mm.y == 0);
    CHECK_NEAR(program.moves[3].length_mm, 1, 1e-12);
    CHECK(program.moves[4].origin_mm == Vec3{});
    CHECK_NEAR(program.moves[4].length_mm, 1, 1e-12);
  }

  TEST_CASE(
      "G92 without words sets all to zero, with a notice; letters without numbers mean zero") {
    auto const program = run("G1 X4 E1\nG92\nG1 X1 E1\nG92 X E\nG1 X1 E1\n");
    CHECK_NEAR(program.moves[1].start_mm.x, 0, 0);
    CHECK_NEAR(program.moves[1].e_mm, 1, 1e-12);
    CHECK_NEAR(program.moves[2].length_mm, 1, 1e-12);
    CHECK_NEAR(program.moves[2].e_mm, 1, 1e-12);
    CHECK(program.noted("G92 without X Y Z E") == 1);
  }

  TEST_CASE("G28 goes to zero on the axes it names, with or without numbers, none meaning all") {
    auto const program =
        run("G1 X1 Y2 Z3\nG92 X5\nG28 X Y\nG1 X1\nG28\nG1 X1\nG1 Z7\nG28 X0\nG1 Y4\n");
    CHECK(program.moves[1].start_mm == Vec3{0, 0, 3});
    CHECK(program.moves[1].origin_mm == Vec3{});
    CHECK(program.moves[2].start_mm == Vec3{});
    CHECK(program.moves[4].start_mm == Vec3{0, 0, 7});
    CHECK(program.halts.size() == 3);
  }

  TEST_CASE("M220 scales speeds and M221 the flow") {
    auto const program =
        run("M83\nM220 S50\nM221 S90\nG1 X1 E1 F1200\nM220 S200\nG1 X2\nM221 S100\nG1 X3 E1\n");
    CHECK_NEAR(program.moves[0].feed_mm_s, 10, 1e-12);
    CHECK(program.moves[0].feed_word == 1200);
    CHECK_NEAR(program.moves[0].e_mm, 0.9, 1e-12);
    CHECK_NEAR(program.moves[0].volume_mm3, 0.9 * filament_mm2, 1e-12);
    CHECK_NEAR(program.moves[0].e_mm * program.moves[0].write.e_words_per_mm, 1, 1e-12);
    CHECK_NEAR(program.moves[1].feed_mm_s, 40, 1e-12);
    CHECK_NEAR(program.moves[2].e_mm, 1, 1e-12);
  }

  TEST_CASE("odd words of M220 and M221 are reported and do no harm") {
    auto const program = run(
        "M83\nM220 B\nM220 S\nM220 S-5\nM221 T1 S50\nM221 T0 S100.00\nM221 S0\nG1 X1 E1 F600\n");
    REQUIRE(program.moves.size() == 1);
    CHECK(program.moves[0].feed_mm_s == 10);
    CHECK(program.moves[0].e_mm == 0);
    CHECK_FALSE(program.moves[0].rewritable);
    CHECK(program.noted("M220 with B") == 1);
    CHECK(program.noted("M221 with T") == 1);
    CHECK(program.noted("makes no sense") == 2);
  }

  TEST_CASE("M200 makes E a volume, and D0 or S0 ends it") {
    auto const program = run(
        "M83\nM200 D3\nG1 X1 E2\nM200 D0\nG1 X2 E2\nM200 S1\nG1 X3 E2\nM200 S0\nG1 X4 E2\nM200\n");
    REQUIRE(program.moves.size() == 4);
    double const area = std::numbers::pi * 9 / 4;
    for (std::size_t const i : {0U, 2U}) {
      CHECK_NEAR(program.moves[i].volume_mm3, 2, 1e-12);
      CHECK_NEAR(program.moves[i].e_mm, 2 / area, 1e-12);
      CHECK_NEAR(program.moves[i].e_mm * program.moves[i].write.e_words_per_mm, 2, 1e-12);
    }
    for (std::size_t const i : {1U, 3U}) {
      CHECK_NEAR(program.moves[i].volume_mm3, 2 * filament_mm2, 1e-12);
    }
    CHECK(program.noted("M200: passed through") == 1);
    CHECK_NEAR(run("M83\nM200 S1\nG1 X1 E2\n").moves.at(0).volume_mm3, 2, 1e-12);
  }

  TEST_CASE("bare G10 and G11 retract and recover by M207 and M208") {
    auto const program = run("M104 S200\nM207 S2.5 F1800\nM208 S0.2 F600\nG10\nG0 X5\nG11\n");
    REQUIRE(program.moves.size() == 3);
    Move const& back = program.moves[0];
    CHECK(back.kind == MoveKind::e_only);
    CHECK(back.bare_retract);
    CHECK(back.rewritable);
    CHECK_NEAR(back.e_mm, -2.5, 1e-12);
    CHECK_NEAR(back.feed_mm_s, 30, 1e-12);
    CHECK_NEAR(program.moves[2].e_mm, 2.7, 1e-12);
    CHECK_NEAR(program.moves[2].feed_mm_s, 10, 1e-12);
    CHECK(program.roles[3] == LineRole::motion);
    CHECK(program.notices.empty());
    CHECK(program.e_register_word == 0);
  }

  TEST_CASE("without M207 a retract of 1 mm at 25 mm/s is assumed, with a notice") {
    auto const program = run("G10\nG11\n");
    CHECK_NEAR(program.moves[0].e_mm, -1, 1e-12);
    CHECK_NEAR(program.moves[0].feed_mm_s, 25, 1e-12);
    CHECK_NEAR(program.moves[1].e_mm, 1, 1e-12);
    CHECK(program.noted("1.0 mm at 25 mm/s assumed") == 1);
  }

  TEST_CASE("G10 while retracted and G11 while not do nothing, with a notice, tool by tool") {
    auto const program = run("G11\nG10\nG10\nT1\nG10\nG11\nT0\nG11\n");
    REQUIRE(program.moves.size() == 4);
    CHECK(program.noted("while already retracted") == 1);
    CHECK(program.noted("without a G10") == 1);
    CHECK(program.moves[3].e_mm == 1);
    CHECK(program.moves[3].tool == 0);
  }

  TEST_CASE("a retract that lifts the head stays as it is") {
    auto const program = run("M207 S1 Z0.5\nG10\nG11\n");
    CHECK_FALSE(program.moves[0].rewritable);
    CHECK(program.noted("the lift is not modelled") == 1);
  }

  TEST_CASE("G10 with words is no retract, and its S sets the temperature") {
    auto const program =
        run("M83\nG10 P0 S205.0 R140.0\nG1 X1 E1\nG10 L2 P1 X3\nG10 S210\nG1 X2 E1\nG10 P1 S150\n"
            "G1 X3 E1\nT1\nG1 X4 E1\nG10 S1\nG1 X5 E1\n");
    double const wanted[] = {205, 210, 210, 150, 150};
    REQUIRE(program.moves.size() == 5);
    for (std::size_t i = 0; i < 5; ++i) CHECK(program.moves[i].nozzle_c == wanted[i]);
    CHECK(program.roles[1] == LineRole::other);
    CHECK(program.noted("G10 with R") == 1);
    CHECK(program.noted("G10: passed through") == 2);
  }

  TEST_CASE("a move with words of unknown meaning is kept as it is") {
    auto const program = run("M83\nG1 X1 E1 S100\nG1 X2 X3\nG1 X5 I1\nG1 X6 A0\nG3 X8 R1 P2\n");
    REQUIRE(program.moves.size() == 5);
    for (Move const& move : program.moves) CHECK_FALSE(move.rewritable);
    CHECK(program.moves[1].end_mm.x == 3);
    CHECK(program.noted("words other than X Y Z E F I J K R") == 3);
    CHECK(program.noted("the same axis twice") == 1);
    CHECK(program.noted("they mean nothing") == 1);
    CHECK(program.roles[1] == LineRole::motion);
  }

  TEST_CASE("extrusion before any temperature is reported") {
    CHECK(run("M83\nG1 X1 E1\nM104 S200\nG1 X2 E1\n").noted("taken as warm") == 1);
    CHECK(run("M83\nM104 S200\nG1 X1 E1\n").noted("taken as warm") == 0);
    CHECK(std::isnan(run("M83\nG1 X1 E1\n").moves.at(0).nozzle_c));
  }
}
