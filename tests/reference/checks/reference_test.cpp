// SPDX-License-Identifier: MIT
// The truth itself is held against cases that can be worked out by hand.
#include "reference.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "support/near.hpp"

using namespace meltlag_reference;

namespace {

Program read(std::string_view text) { return read_program(text, Machine{}, Plant{}); }

Verdict judge_itself(std::string_view text, const Plant& plant = {}) {
  return judge(text, text, plant, Machine{});
}

}  // namespace

TEST_SUITE("reference") {
  TEST_CASE("two commands on one line are both obeyed, but M inside M is a parameter") {
    const Program p = read("M109 S200G1 X0.1 E15\nM42 M1 P74 S0\n");
    REQUIRE(p.moves.size() == 1);
    REQUIRE(p.halts.size() == 1);
    CHECK(p.halts[0].before_move == 0);
    CHECK_NEAR(p.moves[0].e_mm, 15.0, 1e-12);
    CHECK_NEAR(p.moves[0].set_c.value_or(0), 200.0, 1e-12);
    CHECK(!p.lines[0].motion);
  }

  TEST_CASE("blanks inside words, lower case, inches and bare axis words are read") {
    const Program p = read("g20\nG1 X 1 Y.5 F 60\nx2\n");
    REQUIRE(p.moves.size() == 2);
    CHECK_NEAR(p.moves[0].end_mm[0], 25.4, 1e-12);
    CHECK_NEAR(p.moves[0].end_mm[1], 12.7, 1e-12);
    CHECK_NEAR(p.moves[0].feed_mm_s, 25.4, 1e-12);
    CHECK_NEAR(p.moves[1].end_mm[0], 50.8, 1e-12);
  }

  TEST_CASE("E is relative under G91 without M83, and stays relative under M83 after G90") {
    const Program p = read("G1 X1 E5\nG91\nG1 E-1\nG90\nM83\nG91\nG90\nG1 X2 E2\n");
    REQUIRE(p.moves.size() == 3);
    CHECK_NEAR(p.moves[1].e_mm, -1.0, 1e-12);
    CHECK_NEAR(p.moves[2].e_mm, 2.0, 1e-12);
  }

  TEST_CASE("a full circle, a half circle by R and a helix have their true lengths") {
    const Program p = read("G1 X10 F1200\nG2 I-5\nG3 X0 Y0 R5\nG2 X10 Y0 Z3 I5 J0\n");
    REQUIRE(p.moves.size() == 4);
    constexpr double pi = std::numbers::pi;
    CHECK_NEAR(p.moves[1].length_mm, 10 * pi, 1e-9);
    CHECK_NEAR(p.moves[2].length_mm, 5 * pi, 1e-9);
    CHECK_NEAR(p.moves[2].at(0.5)[1], 5.0, 1e-9);  // anticlockwise from the right: over the top
    CHECK_NEAR(p.moves[3].length_mm, std::hypot(5 * pi, 3), 1e-9);
    CHECK_NEAR(p.moves[3].at(0.5)[1], 5.0, 1e-9);  // clockwise from the left: over the top
  }

  TEST_CASE("macros, tool changes and dwells halt the head; other M codes do not") {
    const Program p = read("G1 X1\nM106 S9\nG92 E0\nPURGE_NOW\nT1\nG4 P500\nM117 G1 X5 *hi*\n");
    REQUIRE(p.halts.size() == 3);
    CHECK(p.moves.size() == 1);
    CHECK_NEAR(p.halts[2].seconds, 0.5, 1e-12);
  }

  TEST_CASE("a dwell's seconds beat its milliseconds, whichever comes first") {
    const Program p = read("G4 S2 P250\nG4 P250 S2\n");
    REQUIRE(p.halts.size() == 2);
    for (const auto& halt : p.halts) CHECK_NEAR(halt.seconds, 2, 1e-12);
  }

  TEST_CASE("a checksum is verified, its frame taken off, and an unreadable motion refused") {
    const Program p = read("N1 T0*59\r\nN2 M190 S60*93\r\n");
    CHECK(!p.lines[0].checksum_bad);
    CHECK(p.lines[1].checksum_bad);
    CHECK(p.lines[0].body == "T0\r");
    CHECK_THROWS(read("G1 X1 Y?\n"));
  }

  TEST_CASE("one long move is the trapezoid of the textbook") {
    const Program p = read("G1 X100 F3000\n");
    const auto timed = plan(p, Machine{}, PlanMode::full);
    // v/a + L/v with v = 50 and a = 800.
    CHECK_NEAR(total_time_s(timed, p), 50.0 / 800 + 100.0 / 50, 1e-9);
  }

  TEST_CASE("a right-angled corner is passed at the jump of either axis") {
    const Program p = read("G1 X100 F3000\nG1 Y100\n");
    CHECK_NEAR(plan(p, Machine{}, PlanMode::full)[1].v_in_mm_s, 10.0, 1e-12);
    Machine round;
    round.rule = CornerRule::rounding;
    // r = d cos 45 / (1 - cos 45), v = sqrt(a r)
    const double r = 0.05 * std::sqrt(0.5) / (1 - std::sqrt(0.5));
    CHECK_NEAR(plan(p, round, PlanMode::full)[1].v_in_mm_s, std::sqrt(800 * r), 1e-9);
  }

  TEST_CASE("a linear barrel fills and runs dry exponentially") {
    Plant plant;
    plant.run_on_mm3 = 1.5;  // a lag of 0.3 s
    Barrel barrel(plant);
    const double e_rate = 2.0;  // mm/s
    const double u = e_rate * plant.area_mm2();
    barrel.advance(e_rate, 0, 0.7, 1);
    const double full = 0.3 * u * (1 - std::exp(-0.7 / 0.3));
    CHECK_NEAR(barrel.run_on_mm3(), full, 1e-9);
    const double out = barrel.advance(0, 0, 0.2, 0);
    CHECK_NEAR(out, full * (1 - std::exp(-0.2 / 0.3)), 1e-9);
  }

  TEST_CASE("a shear-thinning barrel at rest empties by the power law") {
    Plant plant;
    plant.run_on_mm3 = 3;
    plant.flow_index = 0.5;
    Barrel barrel(plant);
    barrel.advance(4, 0, 1, 1);
    const double w = barrel.run_on_mm3();
    barrel.advance(0, 0, 2, 0);
    // dW/dt = -c W^2, c = Qref / S^2
    CHECK_NEAR(barrel.run_on_mm3(), 1 / (1 / w + 2 * 5.0 / 9), 1e-8);
  }

  TEST_CASE("backlash swallows the first part of each reversal, forward starts taken up") {
    Plant plant;
    plant.backlash_mm = 0.25;
    plant.run_on_mm3 = 1e6;  // nothing leaves
    Barrel barrel(plant);
    barrel.advance(1, 0, 1, 1);
    CHECK_NEAR(barrel.run_on_mm3(), plant.area_mm2(), 1e-4);
    barrel.advance(1, 0, 0.5, -1);
    CHECK_NEAR(barrel.run_on_mm3(), 0.75 * plant.area_mm2(), 1e-4);
    barrel.advance(1, 0, 0.5, 1);
    CHECK_NEAR(barrel.run_on_mm3(), plant.area_mm2(), 1e-4);
  }

  TEST_CASE("what is wanted and got balance with the run-on left at the end") {
    Plant plant;
    const Verdict v = judge_itself("M83\nG1 X20 E2 F1200\nG1 X40\nG1 X60 E2\nG1 E-0.5\n", plant);
    CHECK_NEAR(v.wanted_mm3, 4 * plant.area_mm2(), 1e-9);
    const double turned = 3.5 * plant.area_mm2();
    const double fed = turned - v.starved_mm3 - v.starved_kept_mm3;
    CHECK_NEAR(v.got_on_path_mm3 + v.uncounted_mm3 + v.run_on_end_mm3, fed, 1e-6);
    CHECK(v.cells == 81);
  }

  TEST_CASE("only a recovery far beyond its debt is purge") {
    const Program p = read("M83\nG1 E-2\nG1 E2.3\nG1 E5\nG1 X5 E1\n");
    const auto purge = find_purges(p, Plant{});
    CHECK(!purge[1]);  // 0.7 mm3 too much: a restart extra
    CHECK(purge[2]);
    CHECK(!purge[3]);
  }

  TEST_CASE("a cut move is found again on its original and judged alike") {
    const std::string original = "M83\nG28 ; home\nG1 X20 E2 F1200 ; bead\nM106 S9\nG1 Y9 E1\n";
    const std::string emitted =
        "; adapted by meltlag\nM83\nG28 ; home\nG1 X7.3 E0.73 F1200 ; bead\nG1 X20 E1.27\n"
        "M106 S9\nG1 Y9 E1\n";
    const Verdict a = judge_itself(original), b = judge(original, emitted, Plant{}, Machine{});
    CHECK_NEAR(a.misplaced_percent, b.misplaced_percent, 1e-6);
    CHECK(check_invariants(original, emitted, Plant{}, Machine{}).empty());
  }

  TEST_CASE("each broken promise is named") {
    const std::string original = "M104 S200\nM83\nG1 X20 E1 F600 ; a\nM106 S9\nG1 Y9 E.5\n";
    const auto violations = [&](const std::string& emitted) {
      return check_invariants(original, emitted, Plant{}, Machine{}).size();
    };
    const std::string head = "; adapted by meltlag\nM104 S200\nM83\n";
    CHECK(violations(head + "G1 X20 E1 F600 ; a\nM106 S9\nG1 Y9 E.5\n") == 0);
    CHECK(violations(head + "G1 X20 E1 F600\nM106 S9\nG1 Y9 E.5\n") == 1);  // comment
    CHECK(violations(head + "G1 X9 E.45 F600 ; a\nM106 S9\nG1 X20 E.55\nG1 Y9 E.5\n") == 1);
    CHECK(violations(head + "G1 X20 E1 F600 ; a\nG1 Y9 E.5\n") == 1);  // fan lost
    CHECK(violations(head + "G1 X9 Y.1 E.5 F600 ; a\nG1 X20 Y0 E.5\nM106 S9\nG1 Y9 E.5\n") > 0);
    CHECK(violations(head + "G1 X1 E7 F600 ; a\nG1 X20 E-6\nM106 S9\nG1 Y9 E.5\n") > 0);
    CHECK(violations("M104 S200\nM83\nG1 X20 E1 F600 ; a\nM106 S9\nG1 Y9 E.5\n") == 1);
  }
}
