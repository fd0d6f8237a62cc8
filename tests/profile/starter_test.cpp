// SPDX-License-Identifier: MIT
#include "meltlag/profile/starter.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"

using namespace meltlag;

namespace {

constexpr std::string_view report =
    "M203 X500 Y400 Z12 E120\nM201 X9000 Y8000 Z100 E10000\nM204 P1500 R1600 T3000\nM205 X10 Y11 "
    "Z0.4 "
    "E5\n";

// The starter with the # taken away from every key.
std::string uncommented(std::string text) {
  for (std::size_t at = 0; (at = text.find("\n#", at)) != std::string::npos; ++at)
    if (text[at + 2] >= 'a' && text[at + 2] <= 'z') text.erase(at + 1, 1);
  return text;
}

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("a starter filled from a settings report loads as it is") {
    auto const values =
        profile::machine_values(profile::read_settings_report(report, "printer.txt"));
    profile::Profile const p = profile::parse(profile::starter(values), "p.toml");
    CHECK(p.limits == motion::Limits{.acceleration_mm_s2 = 1500,
                                     .travel_acceleration_mm_s2 = 3000,
                                     .retract_acceleration_mm_s2 = 1600,
                                     .corner_jump_mm_s = {10, 11, 0.4, 5},
                                     .max_speed_mm_s = {500, 400, 12, 120},
                                     .max_acceleration_mm_s2 = {9000, 8000, 100, 10000}});
    CHECK(profile::lag_source(p) == profile::Source::none);
  }

  TEST_CASE("an empty starter says what to type first") {
    std::string const what =
        error_of([] { (void)profile::parse(profile::starter({}), "p.toml"); }).what();
    CHECK(what.find("[machine] acceleration_mm_s2 is missing") != std::string::npos);
  }

  TEST_CASE("every key of a starter may be taken as it stands, but for files and alternatives") {
    Scratch const scratch;
    std::string text = uncommented(profile::starter({}));
    for (std::string const line :
         {"base = \"other.toml\"\n",
          "load_test = \"loads.csv\"\n",
          "mix = [{ use = \"pla\", parts = 3 }, { use = \"pp\", parts = 1 }]\n"}) {
      REQUIRE(text.find(line) != std::string::npos);
      text.erase(text.find(line), line.size());
    }
    scratch.write("printer.txt", report);
    scratch.write("materials/pla.toml", "[material]\ndensity_g_cm3 = 1\n");
    profile::Profile const p = profile::load(scratch.write("p.toml", text));
    CHECK(p.title == "Bench auger");
    CHECK(p.measured_lag->run_on_mm3 == 5.0);
    CHECK(p.barrel->sections.at(0).length_mm == 60.0);
    CHECK(p.mechanics.at(0).name == "bracket");
    CHECK(p.material.longest_residence_s == 600.0);
    CHECK(p.limits.acceleration_mm_s2 == 800.0);
    CHECK(p.limits.retract_acceleration_mm_s2 == 1500.0);
    CHECK(p.limits.travel_rule == motion::TravelRule::without_e);
    CHECK_FALSE(p.limits.stops_halt);
    CHECK(p.bounds.max_flow_mm3_s == 15.0);
    CHECK(p.bounds.burst_mm3 == 0.0);
    CHECK(p.bounds.max_burst_mm3_s == 30.0);
    CHECK(p.bounds.cold_below_c == 170.0);
  }

  TEST_CASE("values typed later land below the line that explains them") {
    std::string const text = profile::with_value(profile::starter({}), "lag", "run_on_mm3", "4.2");
    CHECK(text.find("#run_on_mm3 = 5.0\nrun_on_mm3 = 4.2\n") != std::string::npos);
  }

  TEST_CASE(
      "a report with a corner deviation becomes the rounding rule, axes it leaves out stay out") {
    auto const values =
        profile::machine_values(profile::read_settings_report("M205 J0.05 E4\nM203 X100\n", "r"));
    CHECK(values.at("machine.corner_rule") == "\"rounding\"");
    CHECK(values.at("machine.corner_rounding_mm") == "0.05");
    CHECK(values.at("machine.corner_jump_mm_s") == "{ e = 4.0 }");
    CHECK(values.at("machine.max_speed_mm_s") == "{ x = 100.0 }");
    CHECK(values.count("machine.acceleration_mm_s2") == 0);
    CHECK(values.count("machine.retract_acceleration_mm_s2") == 0);
  }
}
