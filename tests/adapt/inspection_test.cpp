// SPDX-License-Identifier: MIT
#include "meltlag/adapt/inspection.hpp"

#include <doctest/doctest.h>

#include "judge/judged_texts.hpp"
#include "support/near.hpp"

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
