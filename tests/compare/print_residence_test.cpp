// SPDX-License-Identifier: MIT
#include "meltlag/compare/print_residence.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <numeric>
#include <string>

#include "support/near.hpp"

using namespace meltlag;

namespace {

// One mm of E is one mm³; the barrel holds 100 mm³; ramps take no time worth mentioning.
compare::ResidenceOptions options() {
  return {.limits = {.acceleration_mm_s2 = 1e6,
                     .travel_acceleration_mm_s2 = 1e6,
                     .corner_jump_mm_s = {1000, 1000, 1000, 1000},
                     .max_speed_mm_s = {1000, 1000, 1000, 1000},
                     .max_acceleration_mm_s2 = {1e7, 1e7, 1e7, 1e7}},
          .slicer_diameter_mm = 2 / std::sqrt(std::numbers::pi),
          .delivered_factor = 1,
          .melt_volume_mm3 = 100};
}

compare::PrintResidence residence_over(std::string const& text,
                                       compare::ResidenceOptions const& given = options()) {
  std::string const path =
      (std::filesystem::temp_directory_path() / ("stay-" + std::to_string(getpid()) + ".gcode"))
          .string();
  std::ofstream(path) << text;
  Notices notices;
  auto const found = compare::residence_over_print(path, given, notices);
  std::filesystem::remove(path);
  return found;
}

// 10 mm³/s while the head goes from 0 to 100 mm in 10 s; and back.
std::string const there = "G1 X100 E100 F600\n", back = "G1 X0 E100\n";

}  // namespace

TEST_SUITE("compare") {
  TEST_CASE("plastic stays for the barrel's volume over a steady flow") {
    auto const found = residence_over("M83\n" + there + back + there + back);
    CHECK_NEAR(found.printed_s, 40, 0.01 /* s */);
    CHECK_NEAR(found.out_mm3, 400, 0.2 /* mm³, one slice */);
    // The first barrelful was there from the beginning and left after 0 to 10 s.
    CHECK_NEAR(found.mean_s, (5 + 3 * 10) / 4.0, 0.02 /* s */);
    CHECK_NEAR(found.longest_s, 10, 0.03 /* s */);
    CHECK_NEAR(found.left_s, 10, 0.03 /* s */);
    CHECK(found.longest_standstill_s == 0);
    double const sum = std::accumulate(found.histogram_mm3.begin(), found.histogram_mm3.end(), 0.0);
    CHECK_CLOSE(sum, found.out_mm3, 1e-12);
    CHECK_CLOSE(found.histogram_mm3[0], sum, 1e-12);
  }

  TEST_CASE("a dwell ages all that is in the barrel, and no more") {
    auto const found = residence_over("M83\n" + there + back + "G4 S90\n" + there + back);
    CHECK_NEAR(found.longest_s, 100, 0.1 /* s */);
    CHECK_NEAR(found.histogram_mm3[2], 100, 0.5 /* mm³ */);  // 1 to 2 min
    CHECK_NEAR(found.histogram_mm3[0], 300, 0.5 /* mm³ */);
    CHECK_NEAR(found.longest_standstill_s, 90, 0.01 /* s */);
    CHECK(found.standstill_line == 5);
    CHECK(found.longest_line == 5);
  }

  TEST_CASE("plastic that was hot for too long is reported by the lines in which it comes out") {
    compare::ResidenceOptions limited = options();
    limited.longest_residence_s = 60;
    auto const found = residence_over("M83\n" + there + back + "G4 S90\n" + there + back, limited);
    REQUIRE(found.cooked.size() == 1);
    CHECK(found.cooked_count == 1);
    CHECK(found.cooked[0].first_line == 5);
    CHECK(found.cooked[0].last_line == 5);
    CHECK_NEAR(found.cooked[0].mm3, 100, 0.5 /* mm³ */);
    CHECK_NEAR(found.cooked[0].longest_s, 100, 0.1 /* s */);
    CHECK(found.cooked_mm3 == found.cooked[0].mm3);
  }

  TEST_CASE("what is drawn back and fed again moves nothing on") {
    auto const plain = residence_over("M83\n" + there + back + there);
    std::string retracts;
    for (int i = 0; i < 50; ++i) retracts += "G1 E-5 F60000\nG1 E5\n";
    auto const with = residence_over("M83\n" + there + retracts + "G1 F600\n" + back + there);
    CHECK_NEAR(with.out_mm3, plain.out_mm3, 0.5 /* mm³ */);
    CHECK(with.longest_standstill_s < 0.1);
  }

  TEST_CASE("less arrives where the screw delivers less") {
    compare::ResidenceOptions half = options();
    half.delivered_factor = 0.5;
    CHECK_NEAR(residence_over("M83\n" + there + back, half).out_mm3, 100, 0.2 /* mm³, one slice */);
  }

  TEST_CASE("time in a cold barrel does not count") {
    std::string const cold = "M104 S80\nG0 X0\nG4 S500\nM104 S200\n";
    auto const found = residence_over("M83\nM104 S200\n" + there + cold + there + back);
    CHECK(found.longest_s < 30);
  }

  TEST_CASE("a file that purges after heating and one that does not are distinguished") {
    std::string const heat = "M83\nM104 S200\nM109 S200\n";
    auto const without = residence_over(heat + there);
    REQUIRE(without.purges.size() == 1);
    CHECK((without.purges[0].event == compare::Event::heating));
    CHECK(without.purges[0].purged_mm3 == 0);
    CHECK(without.unknown_waits == 1);
    auto const with = residence_over(heat + "G1 E-2 F600\nG1 E42\n" + there);
    REQUIRE(with.purges.size() == 1);
    CHECK_NEAR(with.purges[0].purged_mm3, 40, 1e-9 /* mm³ */);
  }

  TEST_CASE("a restart that gives a twentieth more than it owes is no purge") {
    std::string const stop = "G1 E-50 F600\nM0\nG1 E51.25\n";
    auto const found = residence_over("M83\n" + there + stop + back);
    REQUIRE(found.purges.size() == 1);
    CHECK(found.purges[0].purged_mm3 == 0);
    auto const purging = residence_over("M83\n" + there + "G1 E-50 F600\nM0\nG1 E60\n" + back);
    REQUIRE(purging.purges.size() == 1);
    CHECK_NEAR(purging.purges[0].purged_mm3, 10, 1e-9 /* mm³ */);
  }

  TEST_CASE("waits, tool changes and long standstills between beads call for a purge") {
    compare::ResidenceOptions limited = options();
    limited.pause_s = 30;
    auto const found = residence_over("M83\n" + there + "M600\n" + back + "T1\nG1 E20 F600\n" +
                                          there + "G4 S40\n" + back + "G4 S10\n" + there,
                                      limited);
    REQUIRE(found.purges.size() == 3);
    CHECK((found.purges[0].event == compare::Event::wait));
    CHECK(found.purges[0].line == 3);
    CHECK(found.purges[0].purged_mm3 == 0);
    CHECK((found.purges[1].event == compare::Event::tool_change));
    CHECK_NEAR(found.purges[1].purged_mm3, 20, 1e-9 /* mm³ */);
    CHECK((found.purges[2].event == compare::Event::pause));
    CHECK_NEAR(found.purges[2].standstill_s, 40, 0.01 /* s */);
    CHECK(found.purges[2].line == 9);
  }

  TEST_CASE("many long standstills are counted, and only the first of them kept") {
    compare::ResidenceOptions limited = options();
    limited.longest_residence_s = 60;
    limited.melt_volume_mm3 = 10;
    std::string text = "M83\n";
    for (int i = 0; i < 100; ++i) text += "G4 S90\n" + there + back;
    auto const found = residence_over(text, limited);
    CHECK(found.cooked_count == 100);
    CHECK(found.cooked.size() == compare::most_places);
    double kept = 0;
    for (auto const& place : found.cooked) kept += place.mm3;
    CHECK_NEAR(kept * 2, found.cooked_mm3, 1 /* mm³ */);
  }
}
