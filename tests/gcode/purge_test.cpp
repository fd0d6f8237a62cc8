// SPDX-License-Identifier: MIT
#include "meltlag/gcode/purge.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

#include "program.hpp"
#include "support/near.hpp"

using namespace meltlag::gcode;
using meltlag::Vec3;

namespace {

constexpr double mm3_per_mm = 2.405281875;  // of filament of 1.75 mm

// Purged by each move of E alone that purges.
std::vector<double> purged_mm3(std::string const& text) {
  PurgeCounter counter;
  std::vector<double> out;
  for (Move const& move : run("G90\nM83\n" + text).moves)
    if (double const mm3 = counter.purged_mm3(move); mm3 > 0) out.push_back(mm3);
  return out;
}

PurgeLineFinder finder_of(std::string const& text) {
  PurgeLineFinder finder;
  for (Move const& move : run("G90\nM83\n" + text).moves) finder.take(move);
  return finder;
}

// A wall of two layers about X 50 Y 50.
std::string part() {
  std::string out;
  for (char const* const z : {"0.3", "0.6"}) {
    out += "G1 X40 Y40 Z" + std::string(z) + " F6000\n";
    out += "G1 X60 E1\nG1 Y60 E1\nG1 X40 E1\nG1 Y40 E1\n";
  }
  return out;
}

}  // namespace

TEST_SUITE("gcode") {
  TEST_CASE("a restart extra is no purge: 1 mm³, or a twentieth of the recovery") {
    CHECK(purged_mm3("G1 E-1 F600\nG1 E1.4\n").empty());
    CHECK(purged_mm3("G1 E-20 F600\nG1 E20.5\n").empty());
    CHECK(purged_mm3("G1 E-20 F600\nG1 E20.9\n").empty());
    std::vector<double> const more = purged_mm3("G1 E-20 F600\nG1 E21.1\n");
    REQUIRE(more.size() == 1);
    CHECK_NEAR(more[0], 1.1 * mm3_per_mm, 1e-9 /* mm³ */);
    REQUIRE(purged_mm3("G1 E0.5 F600\n").size() == 1);
    CHECK(purged_mm3("G1 E0.4 F600\n").empty());
  }

  TEST_CASE("what is drawn back on the way or in parts is owed as well") {
    CHECK(purged_mm3("G1 E-2 F600\nG1 X10 E-2\nG1 E-1\nG1 E3\nG1 E2\n").empty());
    REQUIRE(purged_mm3("G1 E-2 F600\nG1 E2\nG1 E3\n").size() == 1);
  }

  TEST_CASE("a line on the bed aside of all that follows is none of the part") {
    std::string const line = "G1 X10 Y5 Z0.3 F6000\nG1 X90 E8\nG1 Y5.5 E0.1\nG1 X10 E8\n";
    PurgeLineFinder const finder = finder_of(line + part());
    PurgeLine const found = finder.purge_line();
    CHECK(found.last_line == 6);
    double const travels_mm = std::sqrt(10 * 10 + 5 * 5 + 0.3 * 0.3) + std::hypot(30, 34.5);
    CHECK_NEAR(found.way_mm, travels_mm + 80 + 0.5 + 80, 1e-9 /* mm */);
    CHECK_NEAR(found.volume_mm3, 16.1 * mm3_per_mm, 1e-7 /* mm³ */);
    BeadBox const box = finder.part();
    CHECK(box.low_x_mm == 40);
    CHECK(box.low_y_mm == 40);
    CHECK(box.high_x_mm == 60);
    CHECK(box.high_y_mm == 60);
  }

  TEST_CASE("two lines on two sides are found as one, a skirt about the part is none") {
    std::string const lines = "G1 X10 Y5 Z0.3 F6000\nG1 X90 E8\nG1 X10 Y12 F6000\nG1 X90 E8\n";
    CHECK(finder_of(lines + part()).purge_line().last_line == 6);
    std::string const skirt = "G1 X30 Y30 Z0.3 F6000\nG1 X70 E2\nG1 Y70 E2\nG1 X30 E2\nG1 Y30 E2\n";
    PurgeLineFinder const finder = finder_of(skirt + part());
    CHECK(finder.purge_line().last_line == 0);
    CHECK(finder.part().low_x_mm == 30);
  }

  TEST_CASE("an object printed layer by layer beside another is no purge line") {
    std::string text;
    for (char const* const z : {"0.3", "0.6"}) {
      text += "G1 X0 Y0 Z" + std::string(z) + " F6000\nG1 X10 E1\nG1 X80 Y0 F6000\nG1 X90 E1\n";
    }
    CHECK(finder_of(text).purge_line().last_line == 0);
    CHECK(finder_of(text).part().high_x_mm == 90);
  }

  TEST_CASE("of a part of one layer nothing can be told") {
    std::string const text = "G1 X10 Y5 Z0.3 F6000\nG1 X90 E8\nG1 X10 Y40 F6000\nG1 X90 E8\n";
    CHECK(finder_of(text).purge_line().last_line == 0);
  }
}
