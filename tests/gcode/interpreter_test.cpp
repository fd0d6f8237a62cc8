// SPDX-License-Identifier: MIT
#include "meltlag/gcode/interpreter.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "gcode/program.hpp"
#include "meltlag/base/error.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::gcode;

namespace {

std::string error_of(std::string_view text) {
  try {
    (void)run(text);
  } catch (Error const& error) {
    CHECK_FALSE(error.hint().empty());
    return error.what();
  }
  return "";
}

std::string first_line(std::string const& text) { return text.substr(0, text.find('\n')); }

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("codes that wait, dwell or stop bring the head to rest, all others run through") {
    struct Row {
      char const* text;
      HaltKind kind;
      double dwell_s;
    };
    Row const halting[] = {{"M0", HaltKind::wait, 0},
                           {"M1 take the tray off G1 X5", HaltKind::wait, 0},
                           {"M109 S200", HaltKind::wait, 0},
                           {"M190 S60", HaltKind::wait, 0},
                           {"M600", HaltKind::wait, 0},
                           {"G28", HaltKind::wait, 0},
                           {"G29", HaltKind::wait, 0},
                           {"M400", HaltKind::stop, 0},
                           {"G4 P250", HaltKind::dwell, 0.25},
                           {"G4 S30", HaltKind::dwell, 30},
                           {"G4 S2 P250", HaltKind::dwell, 2},
                           {"G4", HaltKind::dwell, 0},
                           {"G4 P-3", HaltKind::dwell, 0},
                           {"T0", HaltKind::stop, 0},
                           {"START_FEET", HaltKind::stop, 0},
                           {"#5=3", HaltKind::stop, 0},
                           {"[homing]", HaltKind::stop, 0},
                           {"{if layer}", HaltKind::stop, 0},
                           {"G5 X1 Y1 I1 J1", HaltKind::stop, 0}};
    for (Row const& row : halting) {
      CAPTURE(row.text);
      auto const program = run(row.text);
      REQUIRE(program.halts.size() == 1);
      CHECK(program.halts[0].kind == row.kind);
      CHECK(program.halts[0].dwell_s == row.dwell_s);
      CHECK(program.halts[0].line == 1);
      CHECK(program.roles[0] == LineRole::other);
      CHECK(program.moves.empty());
    }
    for (char const* text : {"M104 S200",
                             "M106 S255",
                             "M117 T1 (of 5)",
                             "G92 E0",
                             "M82",
                             "M204 S500",
                             "M999",
                             "G21",
                             "G90",
                             "",
                             "; T1",
                             "(M0)",
                             "M118 hello G28",
                             "N7"}) {
      CAPTURE(text);
      CHECK(run(text).halts.empty());
    }
  }

  TEST_CASE("a dwell reads P as milliseconds, unlike the report, where it is seconds") {
    CHECK(run("G4 P1500").halts.at(0).dwell_s == 1.5);
    CHECK(run("G4 P-3").noted("G4 with a time") == 1);
  }

  TEST_CASE("a tool change is a stop, moves carry the tool, a change is reported") {
    auto const program = run("T0\nG1 X1\nt1\nG1 X2\nT2 ; second hopper\nT2\n");
    REQUIRE(program.halts.size() == 4);
    for (Halt const& halt : program.halts) CHECK(halt.tool_change);
    CHECK(program.moves[0].tool == 0);
    CHECK(program.moves[1].tool == 1);
    CHECK(program.noted("a tool change") == 2);
  }

  TEST_CASE("macros and prose without a semicolon pass through as stops and are listed") {
    auto const program =
        run("START_FEET BED=60\nprint the clips slowly\nThe tray\nGo on\nE3 hotend\nN-1 "
            "M110\n\"x\"\n?\n"
            "NEXT\n");
    CHECK(program.halts.size() == 9);
    for (Halt const& halt : program.halts) CHECK(halt.macro);
    CHECK(program.noted("no G, M or T code") == 9);
    CHECK(program.moves.empty());
  }

  TEST_CASE("temperatures act at once, by tool, also while waiting") {
    auto const program = run(
        "M104 S200\nG1 X1\nM109 R190\nG1 X2\nM104 T1 S230\nG1 X3\nT1\nG1 X4\nM104 S0\nG1 X5\nT0\n"
        "G1 X6\nM109\nM104 T1\nG1 X7\nT5\nG1 X8\n");
    double const wanted[] = {200, 190, 190, 230, 0, 190, 190, 0};
    REQUIRE(program.moves.size() == 8);
    for (std::size_t i = 0; i < 8; ++i) {
      CAPTURE(i);
      CHECK(program.moves[i].nozzle_c == wanted[i]);
    }
  }

  TEST_CASE("machine settings of the file are handed on") {
    auto const program = run(
        "M201 X500 Y600 Z100 E5000\nM203 X200 E25.5\nM204 S800\nM204 P1000 T1500 R400\nM204 T900\n"
        "M205 X8.00 Z0 E5\nM205 S0 T0 J0.02\nM204 P0\nM203 X0\n");
    REQUIRE(program.settings.size() == 5);
    auto const& s = program.settings;
    CHECK(s[0].kind == SettingKind::max_acceleration);
    CHECK(s[0].x == 500);
    CHECK(s[0].y == 600);
    CHECK(s[0].z == 100);
    CHECK(s[0].e == 5000);
    CHECK(s[1].kind == SettingKind::max_speed);
    CHECK(s[1].x == 200);
    CHECK(std::isnan(s[1].y));
    CHECK(s[1].e == 25.5);
    CHECK(s[2].kind == SettingKind::acceleration);
    CHECK(s[2].all == 800);
    CHECK(std::isnan(s[2].travel));
    CHECK(s[3].all == 1000);
    CHECK(s[3].travel == 1500);
    CHECK(s[4].kind == SettingKind::corner_jump);
    CHECK(s[4].z == 0);
    CHECK(s[4].line == 6);
    CHECK(s[3].retract == 400);
    CHECK(std::isnan(s[2].retract));
    CHECK(program.noted("M204 with R") == 0);
    CHECK(program.noted("M204 with T") == 1);
    CHECK(program.noted("M205 with J: passed through, that part is not modelled") == 1);
    CHECK(program.noted("M205 with S") == 1);
    CHECK(program.noted("M204 that is zero") == 1);
    CHECK(program.noted("a machine limit that is zero") == 1);
    CHECK(run("G20\nM203 X2").settings.at(0).x == 50.8);
  }

  TEST_CASE("M204 R alone is a setting of its own, and is no acceleration of the head") {
    auto const alone = run("M204 R900");
    REQUIRE(alone.settings.size() == 1);
    CHECK(alone.settings[0].kind == SettingKind::acceleration);
    CHECK(alone.settings[0].retract == 900);
    CHECK(std::isnan(alone.settings[0].all));
    CHECK(std::isnan(alone.settings[0].travel));
    CHECK(alone.notices.empty());
    auto const beside_s = run("M204 S700 R800");
    CHECK(beside_s.settings.at(0).all == 700);
    CHECK(beside_s.settings.at(0).retract == 800);
    CHECK(run("G20\nM204 R100").settings.at(0).retract == 2540);
    auto const zero = run("M204 R0");
    CHECK(zero.settings.empty());
    CHECK(zero.noted("M204 that is zero") == 1);
  }

  TEST_CASE("two commands on one line both act, and the line stays as it is") {
    auto const program =
        run("M83\nM109 S200G1 X0.1 Y20 E15 F900\nG1 X5 M106 S255\nG1 X6 E1G1 X7 E1\n"
            "M221 S50 G1 X8 E1\nT1 G1 X9\nG91 G1 X1\n");
    REQUIRE(program.moves.size() == 7);
    CHECK(program.halts.at(0).kind == HaltKind::wait);
    CHECK(program.moves[0].nozzle_c == 200);
    CHECK(program.moves[0].e_mm == 15);
    CHECK(program.moves[3].end_mm.x == 7);
    CHECK(program.moves[4].e_mm == 0.5);
    CHECK(program.moves[5].tool == 1);
    CHECK(program.moves[6].end_mm.x == 10);
    for (Move const& move : program.moves) CHECK_FALSE(move.rewritable);
    for (LineRole const role : program.roles) CHECK(role == LineRole::other);
  }

  TEST_CASE("M as a word of another M code is no command of its own") {
    auto const program = run("M42 M1 P74 S0\nM42 P1 M109 S5\n");
    CHECK(program.halts.empty());
    CHECK(program.notices.empty());
  }

  TEST_CASE("text of M117 and its like is not read as words") {
    auto const program =
        run("M117 *text*\nM117 Go G1 X5 E3\nM117 N5 \"T1\" [x]\nM118 M0 G28\nM23 g28.g\n"
            "N4 M117 *feet*\n");
    CHECK(program.moves.empty());
    CHECK(program.halts.empty());
    CHECK(program.notices.empty());
  }

  TEST_CASE("what is not modelled is reported in plain words, harmless codes are not") {
    auto const program =
        run("M906 X800\nG12 P1\nM999.2\nM106 S255\nM140 S60\nM107\nM84\nG21\nM862.3 P \"x\"\n");
    CHECK(program.noted("M906: passed through, not modelled") == 1);
    CHECK(program.noted("G12: passed through, not modelled") == 1);
    CHECK(program.noted("M999.2: passed through, not modelled") == 1);
    CHECK(program.noted("not modelled") == 3);
  }

  TEST_CASE("a firmware-side lag handling is warned about, switching it off is not") {
    char const* const warning = "the file sets a firmware-side lag handling; switch it off, or lag";
    CHECK(run("M900 K0.2\n").noted(warning) == 1);
    CHECK(run("M572 D0 S0.1\n").noted(warning) == 1);
    CHECK(run("SET_PRESSURE_ADVANCE ADVANCE=0.04\n").noted(warning) == 1);
    CHECK(run("set_pressure_advance advance=0.04\n").halts.size() == 1);
    CHECK(run("M900 K0\nM572 S0\n").notices.empty());
  }

  TEST_CASE("a curve that is not modelled still ends where it says") {
    auto const program = run("G1 X1 Y1\nG5 X9 Y5 I1 J1 E2\nG1 X9 Y6 E3\n");
    CHECK_NEAR(program.moves.at(1).length_mm, 1, 1e-12);
    CHECK_NEAR(program.moves.at(1).e_mm, 1, 1e-12);
  }

  TEST_CASE("axis words after a mode code make no move, and are reported") {
    auto const program = run("G90 X5\nG91 Z2\n");
    CHECK(program.moves.empty());
    CHECK(program.noted("not taken as a move") == 2);
  }

  // Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3 (NISTIR 6556, 2000), 3.1: a
  // first line with only a percent sign asks for a second one; what follows that is not read.
  TEST_CASE("a program between percent signs ends at the second one") {
    auto const program = run("; feet\n % \nG1 X1\n%\nG1 X2\nG28\nG1 Yoops\n");
    CHECK(program.moves.size() == 1);
    CHECK(program.halts.empty());
    CHECK(program.roles[4] == LineRole::other);
    CHECK(program.noted("the program ends at '%'") == 1);
  }

  TEST_CASE("a percent sign in mid program without one in front is a stop like any stray line") {
    auto const program = run("G1 X1\n%\nG1 X2\n");
    CHECK(program.moves.size() == 2);
    CHECK(program.halts.size() == 1);
    CHECK(program.halts[0].macro);
  }

  // Same report, 3.3.: a slash in front marks a line as one that may be left out.
  TEST_CASE("block-deleted lines are not executed but listed") {
    auto const program = run("/G1 X1 E1\n/ M109 S200\n/G1 Yoops\nG1 X2\n");
    CHECK(program.moves.size() == 1);
    CHECK(program.halts.empty());
    CHECK(program.noted("'/' in front") == 3);
    CHECK(program.roles[0] == LineRole::other);
  }

  TEST_CASE(
      "numbered lines act like others; a wrong checksum is reported and the line still read") {
    auto const program =
        run("N1 G1 X10 Y10 E1.5*103\nN2 G1 X11*1\nN3 T0*57\nN000009 G1 X12\nN10\n");
    CHECK(program.moves.size() == 3);
    CHECK(program.noted("a checksum that does not fit") == 1);
    auto const told = std::ranges::find_if(program.notices, [](Notice const& notice) {
      return notice.text.starts_with("a checksum");
    });
    REQUIRE(told != program.notices.end());
    CHECK(told->lines == std::vector<std::int64_t>{2});
    CHECK(program.roles[0] == LineRole::motion);
    CHECK(program.moves[0].rewritable);
  }

  TEST_CASE("the line that says that a file was adapted is recognised") {
    std::string const marker(Interpreter::marker_text);
    auto const program =
        run(marker + " 1.0 with bench.toml\nG28 " + marker + "\n;" + marker + "\n");
    CHECK(program.roles[0] == LineRole::marker);
    CHECK(program.roles[1] == LineRole::other);
    CHECK(program.roles[2] == LineRole::other);
  }

  TEST_CASE("unreadable words in a move are errors with their exact place") {
    struct Row {
      char const* text;
      char const* message;
    };
    Row const rows[] = {
        {"G28\nG1 X10 Yoops", "feet.gcode:2:8: cannot read 'Yoops': expected a number after Y"},
        {"G1 X1.2.3", "feet.gcode:1:8: cannot read '.3' in a move"},
        {"G1 X", "feet.gcode:1:4: cannot read 'X': expected a number after X"},
        {"G1 X[2]", "feet.gcode:1:4: cannot read 'X[2]': expected a number after X"},
        {"g1 x asim[0.5]", "feet.gcode:1:4: cannot read 'x': expected a number after X"},
        {"g40 g1 #3=15 (foo) #4=-7.0", "feet.gcode:1:8: cannot read '#3=15' in a move"},
        {"N7 G1 X1 \xE9", "feet.gcode:1:10: cannot read '?' in a move"},
        {"G1 X1\nY2 ?", "feet.gcode:2:4: cannot read '?' in a move"},
        {"G1 X1 hello", "feet.gcode:1:7: cannot read 'hello': expected a number after H"},
        {"G1 X1 (wall", "feet.gcode:1:7: cannot read '(wall' in a move"},
        {"G1 Xinf", "feet.gcode:1:4: cannot read 'Xinf': expected a number after X"},
        {"G1 Xnan", "feet.gcode:1:4: cannot read 'Xnan': expected a number after X"},
        {"M109 S200G1 X?", "feet.gcode:1:13: cannot read 'X?': expected a number after X"},
        {"G10 ?", "feet.gcode:1:5: cannot read '?' in a move"},
        {"G2 X5 Y5", "feet.gcode:1:1: an arc has neither I, J (K) nor R"},
        {"G1 X1*5", "feet.gcode:1:6: cannot read '*5' in a move"},
    };
    for (Row const& row : rows) {
      CAPTURE(row.text);
      CHECK(first_line(error_of(row.text)) == row.message);
    }
  }

  TEST_CASE("coordinates beyond a kilometre are errors with their place") {
    std::string const huge = "1" + std::string(400, '0');
    std::string const rows[] = {"G1 X1000000.1",
                                "G1 X-1000001",
                                "G1 X" + huge,
                                "G1 Y39371\nG20\nG1 X39371",
                                "G91\nG1 X900000\nG1 X900000",
                                "G2 I1000001",
                                "G2 X1 R" + huge,
                                "G1 E" + huge,
                                "G1 X1 F" + huge};
    for (std::string const& text : rows) {
      CAPTURE(text);
      auto const message = first_line(error_of(text));
      CHECK(message.find("out of range") != std::string::npos);
      CHECK(message.starts_with("feet.gcode:"));
    }
    CHECK(first_line(error_of("G28\nG1 F900 X1000001 Y1")) ==
          "feet.gcode:2:9: X1000001 is out of range: X at most 1000000 mm");
    CHECK(error_of("G1 X1000000 Y-1000000\nG1 E5000000").empty());
  }

  TEST_CASE("unreadable ends of other lines pass through and are listed") {
    auto const program = run("M104 S200 ???\nG92 E0 // start\nM83\nG1 X1 E1\nG28 [x]\n");
    CHECK(program.moves.at(0).nozzle_c == 200);
    CHECK(program.noted("whose end cannot be read") == 3);
    CHECK(error_of("G92 X" + std::string(400, '9')).empty());
    CHECK(error_of("M104 S" + std::string(400, '9')).empty());
    CHECK(error_of("T99999999999999999999").empty());
    CHECK(error_of("G99999999999999999999 X1").empty());
  }

  TEST_CASE("an interpreter that was moved goes on with its state") {
    Notices notices;
    Program program;
    Interpreter first({.slicer_diameter_mm = 1.75}, notices);
    Block block;
    read_block("G1 X5", block);
    (void)first.interpret(block, program);
    Interpreter second = std::move(first);
    read_block("G1 X7", block);
    (void)second.interpret(block, program);
    CHECK(program.moves.at(1).start_mm.x == 5);
  }

  TEST_CASE("no line of random pieces does harm: it is a move, passes through, or is an error") {
    std::mt19937 random(9);
    char const* const pieces[] = {
        "G1",   "G0",   "G2",  "G3",  "X1",   "Y-2.5", "E.1", "F900", "I1",   "J-2", "R5",  "M83",
        "M109", "S200", "T1",  " ",   "G91",  "G92",   "X",   "\xFF", "G10",  "G11", "*12", "N3",
        "/",    "%",    "(a)", "G28", "M204", "P3",    "G20", "M221", "M200", "D2",  "(",   ";x"};
    std::int64_t errors = 0, moves = 0;
    for (int round = 0; round < 20'000; ++round) {
      std::string text;
      for (int line = 0; line < 3; ++line) {
        for (auto n = random() % 6; n > 0; --n) text += pieces[random() % std::size(pieces)];
        text += '\n';
      }
      CAPTURE(text);
      try {
        auto const program = run(text);
        moves += static_cast<std::int64_t>(program.moves.size());
        for (Move const& move : program.moves) {
          CHECK(std::isfinite(move.length_mm));
          CHECK(std::isfinite(move.e_mm));
          CHECK((move.length_mm > 0 || move.e_mm != 0));
          CHECK(move.feed_mm_s > 0);
        }
      } catch (Error const& error) {
        ++errors;
        CHECK(error.where().line > 0);
        CHECK(error.where().column > 0);
      }
    }
    CHECK(errors > 1000);
    CHECK(moves > 1000);
  }
}
