// SPDX-License-Identifier: MIT
#include "meltlag/adapt/bead_widths.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>

#include "support/near.hpp"

namespace {

using namespace meltlag::adapt;

// A job of three layers of 0.2 mm: beads of the section that a person asks for, 40 mm long.
std::string job(double e_per_mm, std::string const& start) {
  std::string text = "G21\nG90\nM83\n" + start;
  for (int layer = 1; layer <= 3; ++layer) {
    text += "G1 Z" + std::to_string(0.2 * layer) + " F600\nG0 X20 Y20\n";
    for (double const x : {60, 20, 60, 20})
      text += "G1 X" + std::to_string(x) + " E" + std::to_string(40 * e_per_mm) + " F1500\n";
  }
  return text;
}

WidthSurvey survey(std::string const& text) {
  std::string const path = (std::filesystem::temp_directory_path() /
                            ("meltlag-widths-" + std::to_string(getpid()) + ".gcode"))
                               .string();
  std::ofstream(path, std::ios::binary) << text;
  WidthSurvey const out = survey_widths(path, 1.75, true);
  std::filesystem::remove(path);
  return out;
}

// A bead w wide and h high, flat with half-round flanks: (w − h)·h + π/4·h².
double section(double w, double h) { return (w - h) * h + std::numbers::pi / 4 * h * h; }

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("a file's bead width is that of its section and layer height") {
    double const area = std::numbers::pi / 4 * 1.75 * 1.75;
    WidthSurvey const told = survey(job(section(0.9, 0.2) / area, ""));
    CHECK_NEAR(told.widths.usual_mm, 0.9, 0.011);
    CHECK_NEAR(told.widths.least_mm, 0.9, 0.011);
    CHECK_NEAR(told.widths.most_mm, 0.9, 0.011);
    CHECK_NEAR(told.widths.usual_height_mm, 0.2, 1e-9);
    CHECK(looks_volumetric(told.widths, 0.8).empty());
    CHECK(looks_volumetric(told.widths, {}).empty());
  }

  TEST_CASE("E written as a volume is noticed by beads that nobody asks for, unless M200 says so") {
    std::string const cubic = job(section(0.9, 0.2), "");  // E in mm³
    WidthSurvey const told = survey(cubic);
    CHECK_FALSE(told.volumetric_said);
    CHECK_NEAR(told.widths.volumetric_usual_mm, 0.9, 0.011);
    CHECK(looks_volumetric(told.widths, 0.8).find("if E were mm³ they would be 0.9 mm") !=
          std::string::npos);
    // Known to the file: the widths are right then.
    WidthSurvey const said = survey(job(section(0.9, 0.2), "M200 D1.75\n"));
    CHECK(said.volumetric_said);
    CHECK_NEAR(said.widths.usual_mm, 0.9, 0.011);
    CHECK_FALSE(survey(job(0.01, "M200 D0\n")).volumetric_said);
    CHECK_FALSE(looks_volumetric(told.widths, {}).empty());  // 10 times as wide as high
    // A wide bead of a wide nozzle is none.
    CHECK(looks_volumetric(told.widths, 2.0).empty());
  }
}
