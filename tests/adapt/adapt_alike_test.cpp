// SPDX-License-Identifier: MIT
// The same part written in other manners gains the same.
#include <doctest/doctest.h>

#include "adapt_sample.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

struct Shares {
  double before_percent, after_percent;
};

Shares shares_of(std::string const& part, melt::PlantParameters const& plant) {
  std::string const text = adapt_text(part, options_for(plant)).text;
  auto const truth = reference_plant(plant);
  auto const broken = broken_promises(part, text, plant);
  CHECK_MESSAGE(broken.empty(), all_of(broken));
  return {meltlag_reference::judge(part, part, truth, {}).misplaced_percent,
          meltlag_reference::judge(part, text, truth, {}).misplaced_percent};
}

// The power law has more than one good optimum: rounding may choose between them.
double points_for(melt::PlantParameters const& plant) {
  return plant.law.flow_index == 1 ? 0.05 : 0.1;
}

void check_alike(Sheet const& sheet) {
  for (auto const& plant : {plant_of(0.3, 1), plant_of(0.3, 0.5)}) {
    CAPTURE(plant.law.flow_index);
    Shares const plain = shares_of(bench_part(), plant);
    Shares const other = shares_of(bench_part(sheet), plant);
    CHECK_NEAR(other.before_percent, plain.before_percent, 0.05 /* points */);
    CHECK_NEAR(other.after_percent, plain.after_percent, points_for(plant) /* points */);
  }
}

// The same moves with all positions counted from the last one.
std::string relative_part() {
  return "G21\nG91\nM83\nM104 S205\nG0 X10 Y10 F4800\nG1 X30 E2.7 F1500\nG1 Y20 E1.8\nG1 E-1 "
         "F1800\nG0 X-30 F4800\nG1 E1 F1800\nG1 Y-15 E1.35 F1500\nG1 X28 Y0.8 E2.52\n";
}
std::string absolute_part() {
  return "G21\nG90\nM83\nM104 S205\nG0 X10 Y10 F4800\nG1 X40 E2.7 F1500\nG1 Y30 E1.8\nG1 E-1 "
         "F1800\nG0 X10 F4800\nG1 E1 F1800\nG1 Y15 E1.35 F1500\nG1 X38 Y15.8 E2.52\n";
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("a mirrored part gains the same") { check_alike({.x_sign = -1, .x_mm = 60}); }

  TEST_CASE("a part elsewhere on the bed gains the same") {
    check_alike({.x_mm = 120, .y_mm = -35});
  }

  TEST_CASE("a part in inches gains the same") { check_alike({.unit = Unit::inch}); }

  TEST_CASE("a part with absolute E gains the same") { check_alike({.e = ECount::absolute}); }

  TEST_CASE("a part in inches with absolute E gains the same") {
    check_alike({.unit = Unit::inch, .e = ECount::absolute});
  }

  TEST_CASE("a part whose positions count from the last one gains the same") {
    auto const plant = plant_of(0.3, 1);
    Shares const plain = shares_of(absolute_part(), plant);
    Shares const other = shares_of(relative_part(), plant);
    CHECK_NEAR(other.before_percent, plain.before_percent, 0.05 /* points */);
    CHECK_NEAR(other.after_percent, plain.after_percent, 0.05 /* points */);
  }

  TEST_CASE("two runs write the same bytes") {
    auto const options = options_for(plant_of(1, 0.5));
    CHECK(adapt_text(bench_part(), options).text == adapt_text(bench_part(), options).text);
  }
}
