// SPDX-License-Identifier: MIT
#include "meltlag/profile/settings_report.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"

using namespace meltlag;

namespace {

constexpr std::string_view answer =
    "echo:; speeds\r\n"
    "echo:  M203 X500.00 Y400.00 Z12.00 E120.00\r\n"
    "echo:  M201 X9000 Y8000 Z100 E10000\r\n"
    "echo:  M204 P1500.00 R1600.00 T3000.00\r\n"
    "echo:  M205 S0.00 T0.00 B20000 X10.00 Y11.00 Z0.40 E5.00 ; corners\r\n"
    "echo:  M206 X1.00\r\n";

profile::SettingsReport read_answer(std::string_view text) {
  return profile::read_settings_report(text, "printer.txt");
}

std::string first_line_of_answer(std::string_view text) {
  std::string const what = error_of([&] { (void)read_answer(text); }).what();
  return what.substr(0, what.find('\n'));
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("the four codes of a settings report are read") {
    profile::SettingsReport const report = read_answer(answer);
    CHECK(report.max_speed_mm_s == profile::SomeAxes{500.0, 400.0, 12.0, 120.0});
    CHECK(report.max_acceleration_mm_s2 == profile::SomeAxes{9000.0, 8000.0, 100.0, 10000.0});
    CHECK(report.acceleration_mm_s2 == 1500.0);
    CHECK(report.travel_acceleration_mm_s2 == 3000.0);
    CHECK(report.retract_acceleration_mm_s2 == 1600.0);
    CHECK(report.corner_jump_mm_s == profile::SomeAxes{10.0, 11.0, 0.4, 5.0});
    CHECK_FALSE(report.corner_rounding_mm);
  }

  TEST_CASE("M204 T is the travel acceleration only beside P") {
    profile::SettingsReport const report = read_answer("m204 s800 t3000");
    CHECK(report.acceleration_mm_s2 == 800.0);
    CHECK_FALSE(report.travel_acceleration_mm_s2);
    CHECK_FALSE(report.retract_acceleration_mm_s2);
  }

  TEST_CASE("M204 R is the acceleration of retracts, with or without the others, and above 0") {
    CHECK(read_answer("M204 R650").retract_acceleration_mm_s2 == 650.0);
    CHECK_FALSE(read_answer("M204 R650").acceleration_mm_s2);
    CHECK(read_answer("M204 S800 R650\nM204 R700").retract_acceleration_mm_s2 == 700.0);
    CHECK(first_line_of_answer("M204 P800 R0\n") ==
          "printer.txt:1:11: R0 in the printer's settings is not greater than 0");
  }

  TEST_CASE("codes that only begin alike are passed over, later lines win, axes add up") {
    profile::SettingsReport const report =
        read_answer("M2035 X1\nM20 X9\nM203 X300\nM203 X200 E40\nM205 J0.08\n");
    CHECK(report.max_speed_mm_s == profile::SomeAxes{200.0, std::nullopt, std::nullopt, 40.0});
    CHECK(report.corner_rounding_mm == 0.08);
  }

  TEST_CASE("a value that cannot be read is an error with its place") {
    CHECK(first_line_of_answer("ok\nM203 X5 Yfast\n") ==
          "printer.txt:2:9: cannot read this value of the printer's settings: 'Yfast'");
    CHECK(first_line_of_answer("M203 X-5\n") ==
          "printer.txt:1:6: X-5 in the printer's settings is not greater than 0");
    CHECK(first_line_of_answer("M205 E0\n") ==
          "printer.txt:1:6: E0 in the printer's settings is not greater than 0");
    CHECK(first_line_of_answer("M203 Xinf\n").starts_with("printer.txt:1:6: cannot read"));
    CHECK(first_line_of_answer("nothing\n") ==
          "printer.txt: no line with M201, M203, M204 or M205 was found");
    CHECK(first_line_of_answer("") ==
          "printer.txt: no line with M201, M203, M204 or M205 was found");
  }

  TEST_CASE("a profile takes its limits from the report, and its own keys before it") {
    Scratch const scratch;
    scratch.write("printer.txt", answer);
    std::string const path = scratch.write("p.toml",
                                           "[machine]\nsettings_report = \"printer.txt\"\n"
                                           "max_speed_mm_s = { e = 60 }\n");
    CHECK(profile::load(path).limits ==
          motion::Limits{.acceleration_mm_s2 = 1500,
                         .travel_acceleration_mm_s2 = 3000,
                         .retract_acceleration_mm_s2 = 1600,
                         .corner_jump_mm_s = {10, 11, 0.4, 5},
                         .max_speed_mm_s = {500, 400, 12, 60},
                         .max_acceleration_mm_s2 = {9000, 8000, 100, 10000}});
    scratch.write("p.toml",
                  "[machine]\nsettings_report = \"printer.txt\"\nacceleration_mm_s2 = 500\n");
    CHECK(profile::load(path).limits.acceleration_mm_s2 == 500.0);
    CHECK(profile::load(path).limits.travel_acceleration_mm_s2 == 500.0);
    scratch.write(
        "p.toml",
        "[machine]\nsettings_report = \"printer.txt\"\nretract_acceleration_mm_s2 = 900\n");
    CHECK(profile::load(path).limits.retract_acceleration_mm_s2 == 900.0);
  }

  TEST_CASE("a report with a corner deviation and no jumps of X means the rounding rule") {
    Scratch const scratch;
    std::string text{answer};
    text.replace(text.find("X10.00 Y11.00 Z0.40 E5.00"), 25, "J0.08 E5.00");
    scratch.write("printer.txt", text);
    std::string const path =
        scratch.write("p.toml", "[machine]\nsettings_report = \"printer.txt\"\n");
    motion::Limits const limits = profile::load(path).limits;
    CHECK(limits.corner_rule == motion::CornerRule::rounding);
    CHECK(limits.corner_rounding_mm == 0.08);
    CHECK(limits.corner_jump_mm_s[motion::axis_e] == 5.0);
  }

  TEST_CASE("a report that leaves something out is completed by keys, or missed at the section") {
    Scratch const scratch;
    scratch.write("printer.txt",
                  "M203 X500 Y500 Z12 E120\nM201 X9000 Y9000 Z100 E10000\nM205 X10 Y10 Z0.4 E5\n");
    std::string const path =
        scratch.write("p.toml", "[machine]\nsettings_report = \"printer.txt\"\n");
    std::string const what = error_of([&] { (void)profile::load(path); }).what();
    CHECK(what.starts_with(path + ":1:1: [machine] acceleration_mm_s2 is missing\n"));
  }

  TEST_CASE("a report in the profile displaces the limits of its base") {
    Scratch const scratch;
    scratch.write("base.toml", std::string{machine_section} + "retract_acceleration_mm_s2 = 700\n");
    scratch.write("printer.txt", answer);
    std::string const path = scratch.write(
        "p.toml", "base = \"base.toml\"\n[machine]\nsettings_report = \"printer.txt\"\n");
    CHECK(profile::load(path).limits.acceleration_mm_s2 == 1500.0);
    CHECK(profile::load(path).limits.max_speed_mm_s[0] == 500.0);
    CHECK(profile::load(path).limits.retract_acceleration_mm_s2 == 1600.0);
    // A report that says nothing of retracts does not bring the base's back either.
    std::string quiet{answer};
    quiet.erase(quiet.find(" R1600.00"), 9);
    scratch.write("printer.txt", quiet);
    CHECK(std::isinf(profile::load(path).limits.retract_acceleration_mm_s2));
  }
}
