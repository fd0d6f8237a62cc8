// SPDX-License-Identifier: MIT
#include "meltlag/adapt/inspection.hpp"

#include <doctest/doctest.h>

#include "judge/judged_texts.hpp"
#include "support/near.hpp"
#include "support/vase.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

constexpr double filament_mm2 = 2.405281875;  // of 1.75 mm

adapt::Inspection inspect_text(std::string_view text, std::optional<double> max_flow = {}) {
  TemporaryFile const file(text);
  Notices notices;
  return adapt::inspect(
      file.path(),
      {.limits = bench_options().limits, .slicer_diameter_mm = 1.75, .max_flow_mm3_s = max_flow},
      notices);
}

std::int64_t lines_with(adapt::Inspection const& inspection, std::string_view code) {
  for (auto const& count : inspection.codes) {
    if (count.code == code) return count.lines;
  }
  return 0;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("layers are found from the height of beads, not from lifts or comments") {
    auto const found = inspect_text(
        "M83\n; layer 99\nG1 Z0.3 F600\nG1 X10 E1 F1200\nG1 Z5\nG1 X0\nG1 Z0.5\nG1 X10 E1\nG1 "
        "Z0.7\n"
        "G1 X0 E1\n");
    CHECK(found.layers == 3);
    CHECK_NEAR(found.first_layer_mm, 0.3, 1e-12 /* mm */);
    CHECK_NEAR(found.layer_mm, 0.2, 1e-12 /* mm */);
  }

  TEST_CASE("a spiral wall of 3 mm has its ten layers, not none") {
    auto const found = inspect_text(spiral_vase());
    CHECK(found.layers == 10);
    CHECK_NEAR(found.layer_mm, 0.3, 1e-3 /* mm */);
    CHECK_NEAR(found.first_layer_mm, 0.3, 1e-3 /* mm */);
  }

  TEST_CASE("a line that purges before the part is purge, and none of the part's place") {
    std::string text = "M83\nM104 S200\nG1 X10 Y5 Z0.3 F6000\nG1 X90 E8 F1200\n";
    for (char const* const z : {"0.3", "0.6"})
      text += "G1 X40 Y40 Z" + std::string(z) + " F6000\nG1 X60 E1\nG1 Y60 E1\nG1 X40 E1\n";
    auto const found = inspect_text(text);
    CHECK(found.purged_after_heat);
    CHECK_NEAR(found.purge_line_mm3, 8 * filament_mm2, 1e-6 /* mm³ */);
    CHECK_NEAR(found.wanted_mm3, 14 * filament_mm2, 1e-6 /* mm³ */);
    CHECK(found.beads.least_mm.x == 40);
    CHECK(found.beads.least_mm.y == 40);
    CHECK(found.beads.most_mm.x == 60);
    CHECK_FALSE(inspect_text(text.substr(text.find("G1 X40"))).purged_after_heat);
    CHECK(inspect_text("M83\nM104 S200\n; purge\nG1 X10 E1 F1200\n").purged_after_heat);
    CHECK_FALSE(
        inspect_text("M83\nM104 S200\n; purge_volume = 9\nG1 X10 E1 F1200\n").purged_after_heat);
  }

  TEST_CASE("a restart that gives a twentieth more than it owes purges nothing") {
    CHECK(inspect_text("M83\nG1 X10 E1 F1200\nG1 E-20\nG1 E20.5\nG1 X0 E1\n").purged_mm3 == 0);
    CHECK_NEAR(inspect_text("M83\nG1 X10 E1 F1200\nG1 E-20\nG1 E25\nG1 X0 E1\n").purged_mm3,
               5 * filament_mm2,
               1e-6 /* mm³ */);
  }

  TEST_CASE("bounds tell beads from travels and follow arcs") {
    auto const found = inspect_text("M83\nG1 X10 Y10 F1200\nG3 X10 Y10 I-5 E1\nG0 X200\n");
    CHECK_NEAR(found.beads.least_mm.x, 0, 0.02 /* mm */);
    CHECK_NEAR(found.beads.most_mm.y, 15, 0.02 /* mm */);
    CHECK_NEAR(found.beads.most_mm.x, 10, 1e-9 /* mm */);
    CHECK(found.head.most_mm.x == 200);
    CHECK(found.arcs == 1);
  }

  TEST_CASE("flow is that of the cruise, and its share above a limit that of the time") {
    // 20 mm/s from corner to corner; ramps from rest take 25 ms each.
    auto const found = inspect_text("M83\nG1 X20 E1 F1200\n", 2.0);
    CHECK_NEAR(found.peak_flow_mm3_s, filament_mm2, 1e-7 /* mm³/s */);
    CHECK(found.peak_line == 2);
    CHECK_NEAR(found.printing_s, 1.025, 1e-9 /* s */);
    CHECK_NEAR(found.mean_flow_mm3_s, filament_mm2 / 1.025, 1e-7 /* mm³/s */);
    double const ramp_below_s = 0.025 * 2.0 / filament_mm2;
    CHECK_NEAR(found.above_max_flow_s, 1.025 - 2 * ramp_below_s, 1e-7 /* s */);
  }

  TEST_CASE("the longest standstill is the longest time without feed between two feeds") {
    auto const found = inspect_text("M83\nG4 S100\nG1 X20 E1 F1200\nG4 S7\nG1 X0 E1\nG4 S50\n");
    CHECK_NEAR(found.longest_standstill_s, 7, 1e-9 /* s */);
    CHECK(found.standstill_line == 5);
  }

  TEST_CASE("codes are counted and distinguished by what becomes of them") {
    auto const found =
        inspect_text("G21\nG1 X1\nX2\nG1X3\nM106 S9\nT1\nM117 G1 text\nSET_THING A=1\n/G1 X9\n");
    CHECK(lines_with(found, "G1") == 3);
    CHECK(lines_with(found, "M106") == 1);
    CHECK(lines_with(found, "T") == 1);
    CHECK(lines_with(found, "other") == 1);
    for (auto const& code : found.codes) {
      CAPTURE(code.code);
      bool const modelled = code.code == "G1" || code.code == "G21" || code.code == "T";
      CHECK((code.handling == adapt::Handling::modelled) == modelled);
    }
  }

  TEST_CASE("modes and warnings are seen") {
    auto const plain = inspect_text("G20\nG1 X1 E0.1\n");
    CHECK(plain.inches);
    CHECK_FALSE(plain.millimetres);
    CHECK(plain.e_mode_never_stated);
    CHECK(plain.absolute_e);
    auto const set =
        inspect_text("; adapted by meltlag\nM83\nM900 K0.1\nM104 S200\nG1 E10\nG1 X1 E1\n");
    CHECK(set.adapted_already);
    CHECK(set.firmware_side_lag);
    CHECK(set.purged_after_heat);
    CHECK(set.relative_e);
    CHECK_FALSE(inspect_text("M83\nM900 K0\nG1 X1 E1\n").firmware_side_lag);
  }
}
