// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "support/near.hpp"
#include "synthetic_rows.hpp"

namespace {

using namespace meltlag::compare;
using meltlag::Notices;

std::string hops(int moves) {
  std::string text = "G90\nM83\nG1 Z0.4 F600\n";
  for (int i = 0; i < moves; ++i)
    text += "G1 X" + std::to_string(i % 2 == 0 ? 4 : 0) + " Y" + std::to_string(i % 3) +
            " E0.2 F6000\n";
  return text;
}

TimeInfluence const& influence(TimeCheck const& check, TimeEntry entry) {
  for (TimeInfluence const& i : check.entries)
    if (i.entry == entry) return i;
  throw std::out_of_range("no such entry");
}

}  // namespace

TEST_SUITE("compare") {
  TEST_CASE("the entry that was wrong is found again with its number") {
    ScratchFile const file(hops(600));
    meltlag::motion::WalkOptions const options = options_of(1).program;
    Notices notices;
    for (double const truth : {0.5, 0.8, 2.0}) {
      CAPTURE(truth);
      meltlag::motion::WalkOptions real = options;
      real.limits.acceleration_mm_s2 *= truth;
      real.limits.travel_acceleration_mm_s2 *= truth;
      double const took = check_time(file.path(), 1, real, notices).planned_s;
      TimeCheck const check = check_time(file.path(), took, options, notices);
      TimeInfluence const& found = influence(check, TimeEntry::acceleration);
      REQUIRE(found.times.has_value());
      CHECK_CLOSE(*found.times, truth, 1e-6);
      CHECK(check.entries.front().entry == TimeEntry::acceleration);
      // The others stay candidates, and one of them it is.
      double all = 0;
      for (TimeInfluence const& i : check.entries) all += i.likelihood;
      CHECK_CLOSE(all, 1, 1e-9);
      CHECK(found.likelihood > 0.3);
    }
  }

  TEST_CASE("short hops depend on acceleration, long ones on the feed") {
    // A move from rest to rest takes 2·√(s/a) as a triangle, s/v + v/a as a trapezoid: ten
    // percent more acceleration save 1 − 1/√1.1 of the first. Mechanics.
    std::string text = "G90\nM83\n";
    for (int i = 0; i < 50; ++i)
      text += "G1 X" + std::to_string(i % 2 == 0 ? 4 : 0) + " F18000\nM400\n";
    ScratchFile const file(text);
    meltlag::motion::WalkOptions options = options_of(1).program;
    options.limits.corner_jump_mm_s = {0, 0, 0, 0};
    Notices notices;
    TimeCheck const check = check_time(file.path(), 7, options, notices);
    double const planned = 50 * 2 * std::sqrt(4.0 / 800);
    CHECK_CLOSE(check.planned_s, planned, 1e-9);
    CHECK_NEAR(influence(check, TimeEntry::acceleration).change_s,
               planned * (1 / std::sqrt(1.1) - 1),
               1e-9);
    CHECK_NEAR(influence(check, TimeEntry::feed).change_s, 0, 1e-9);
    CHECK_FALSE(influence(check, TimeEntry::corner).times.has_value());
    ScratchFile const slow("G90\nM83\nG1 X300 F600\n");
    TimeCheck const one = check_time(slow.path(), 33, options, notices);
    CHECK(one.entries.front().entry == TimeEntry::feed);
    CHECK_NEAR(influence(one, TimeEntry::feed).change_s, 30 / 1.1 - 30, 0.02);
  }

  TEST_CASE("what nothing explains is not laid to an entry") {
    ScratchFile const file(hops(50) + "M109 S205\n");
    Notices notices;
    TimeCheck const check = check_time(file.path(), 3600, options_of(1).program, notices);
    CHECK_FALSE(check.entries.front().times.has_value());
    CHECK(check.unknown_waits == 1);
  }

  TEST_CASE("the weight gives the factor that the hidden machine had") {
    Walls const walls = seed_tray_walls(2);
    ScratchFile const file(walls.text);
    auto hidden = hidden_machine(5);
    hidden.plant.delivered_factor = 0.85;
    reference::HeadMotion const motion = reference::plan_motion(walls.text, printer(), 1.75);
    reference::Print const print = reference::simulate_print(motion, hidden);
    std::size_t const first = motion.find(static_cast<std::size_t>(walls.lines.front()));
    double const grams = 1.24e-3 * (print.out_mm3.back() - print.until(motion.way_mm[first]));
    Notices notices;
    PartMass const mass = weigh_part(file.path(), grams, options_of(5), notices);
    CHECK(mass.profile_factor == 0.96);
    CHECK_CLOSE(mass.delivered_factor, 0.85, 0.005);
    CHECK(std::abs(mass.delivered_factor - 0.85) < mass.delivered_factor_sd);
    CompareOptions without = options_of(5);
    without.density_g_cm3.reset();
    CHECK_THROWS_AS((void)weigh_part(file.path(), 1, without, notices), meltlag::Error);
  }

  TEST_CASE("a line that purges before the part is no part of it") {
    std::string part;
    for (char const* const z : {"0.4", "0.8"})
      part += "G1 X0 Y0 Z" + std::string(z) + " F6000\nG1 X100 E10 F1200\nG1 X0 Y10 F6000\n";
    ScratchFile const plain("G90\nM83\n" + part);
    ScratchFile const purging("G90\nM83\nG1 X0 Y150 Z0.4 F6000\nG1 X100 E30 F1200\nG4 P60000\n" +
                              part);
    Notices notices;
    CompareOptions const options = options_of(1);
    PartMass const a = weigh_part(plain.path(), 1, options, notices);
    PartMass const b = weigh_part(purging.path(), 1, options, notices);
    CHECK_NEAR(a.predicted_g, b.predicted_g, 0.02 * a.predicted_g);
  }

  TEST_CASE("purge within the print is no part of the part") {
    std::string const bead = "G1 X0 Y0 F6000\nG1 X100 E10 F1200\nG1 X0 Y10 F6000\n";
    ScratchFile const plain("G90\nM83\nG1 Z0.4 F600\n" + bead + bead);
    ScratchFile const purging("G90\nM83\nG1 Z0.4 F600\n" + bead + "G1 Y150 F6000\nG1 E20 F300\n" +
                              "G4 P60000\n" + bead);
    Notices notices;
    CompareOptions const options = options_of(1);
    PartMass const a = weigh_part(plain.path(), 1, options, notices);
    PartMass const b = weigh_part(purging.path(), 1, options, notices);
    CHECK_NEAR(b.purged_g, 0.96 * 20 * 2.405281875 * 1.24e-3, 1e-9);
    CHECK_NEAR(a.predicted_g, b.predicted_g, 0.01 * a.predicted_g);
  }
}
