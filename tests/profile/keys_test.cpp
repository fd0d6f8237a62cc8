// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include "meltlag/profile/profile.hpp"
#include "scratch.hpp"
#include "support/near.hpp"

using namespace meltlag;

namespace {

constexpr std::string_view everything = R"(title = "All"
notes = "of it"
[feed]
slicer_diameter_mm = 2.85
delivered_factor = 0.9
delivered_factor_sd = 0.02
backlash_mm = 0.1
backlash_mm_sd = 0.03
reverse_factor = 0.8
e_mm_per_turn = 77
[lag]
run_on_mm3 = 4
run_on_mm3_sd = 0.5
at_flow_mm3_s = 6
flow_index = 0.7
at_c = 210
leak_per_s = 0.01
creep_share = 0.2
creep_s = 40
[barrel]
sections = [
  { length_mm = 20, length_mm_sd = 1, bore_mm = 14, screw_core_mm = 10 },
  { length_mm = 5, bore_mm = 12, screw_core_mm = 0 },
]
tip_gap_mm = 2
screw_diameter_mm = 11.5
screw_pitch_mm = 13
air_mm3 = 3
melt_volume_mm3 = 1500
[nozzle]
diameter_mm = 0.8
hole_length_mm = 2
ooze_mm3_s = 0.1
[mechanics]
parts = [
  { name = "bracket", n_per_mm = 900, n_per_mm_sd = 90 },
  { name = "plate", deflection_mm = 0.02, at_flow_mm3_s = 5 },
]
[material]
density_g_cm3 = 1.2
bulk_modulus_mpa = 1100
consistency_pa_sn = 5000
consistency_pa_sn_low = 4000
consistency_pa_sn_high = 6000
flow_index = 0.5
at_c = 200
activation_kj_mol = 40
longest_residence_s = 300
sticks_c = 61
[machine]
acceleration_mm_s2 = 700
travel_acceleration_mm_s2 = 1200
travel_acceleration_holds_for = "G0"
retract_acceleration_mm_s2 = 1300
stops_halt = true
corner_rule = "rounding"
corner_rounding_mm = 0.03
corner_jump_mm_s = { x = 8, y = 9, z = 0.3, e = 4 }
max_speed_mm_s = { x = 200, y = 210, z = 10, e = 50 }
max_acceleration_mm_s2 = { x = 1000, y = 1100, z = 100, e = 3000 }
shortest_cut_ms = 25
buffer_moves = 32
max_lines_per_s = 150
min_speed_mm_s = 1
g91_covers_e = false
[limits]
max_flow_mm3_s = 12
max_flow_mm3_s_sd = 0.2
burst_mm3 = 1.5
burst_mm3_sd = 0.4
max_burst_mm3_s = 20
max_burst_mm3_s_sd = 1
max_pressure_mpa = 8
max_thrust_n = 500
cold_below_c = 160
)";

}  // namespace

TEST_SUITE("profile") {
  TEST_CASE("feed and lag arrive where they belong") {
    profile::Profile const p = profile::parse(everything, "all.toml");
    CHECK(p.title == "All");
    CHECK(p.notes == "of it");
    CHECK(p.path == "all.toml");
    CHECK(p.feed.slicer_diameter_mm == 2.85);
    CHECK(p.feed.delivered_factor == 0.9);
    CHECK(p.feed.backlash_mm == 0.1);
    CHECK(p.feed.reverse_factor == 0.8);
    CHECK(p.e_mm_per_turn == 77.0);
    REQUIRE(p.measured_lag);
    CHECK(p.measured_lag->run_on_mm3 == 4.0);
    CHECK(p.measured_lag->at_flow_mm3_s == 6.0);
    CHECK(p.measured_lag->flow_index == 0.7);
    CHECK(p.measured_lag->at_c == 210.0);
    CHECK(p.measured_lag->activation_kj_mol == 40.0);
    CHECK(p.leak_per_s == 0.01);
    CHECK(p.creep_share == 0.2);
    CHECK(p.creep_s == 40.0);
  }

  TEST_CASE("the parts arrive where they belong") {
    profile::Profile const p = profile::parse(everything, "all.toml");
    REQUIRE(p.barrel);
    REQUIRE(p.barrel->sections.size() == 2);
    CHECK(p.barrel->sections[0].length_mm == 20.0);
    CHECK(p.barrel->sections[0].bore_mm == 14.0);
    CHECK(p.barrel->sections[0].screw_core_mm == 10.0);
    CHECK(p.barrel->sections[1].screw_core_mm == 0.0);
    CHECK(p.barrel->tip_gap_mm == 2.0);
    CHECK(p.barrel->screw_diameter_mm == 11.5);
    CHECK(p.barrel->screw_pitch_mm == 13.0);
    CHECK(p.barrel->air_mm3 == 3.0);
    CHECK(p.barrel->melt_volume_mm3 == 1500.0);
    REQUIRE(p.nozzle);
    CHECK(p.nozzle->diameter_mm == 0.8);
    CHECK(p.nozzle->hole_length_mm == 2.0);
    CHECK(p.nozzle->ooze_mm3_s == 0.1);
    REQUIRE(p.mechanics.size() == 2);
    CHECK(p.mechanics[0].name == "bracket");
    CHECK(p.mechanics[0].n_per_mm == 900.0);
    CHECK(p.mechanics[1].deflection_mm == 0.02);
    CHECK(p.mechanics[1].at_flow_mm3_s == 5.0);
    CHECK(p.material.density_g_cm3 == 1.2);
    CHECK(p.material.bulk_modulus_mpa == 1100.0);
    CHECK(p.material.consistency_pa_sn == 5000.0);
    CHECK(p.material.flow_index == 0.5);
    CHECK(p.material.at_c == 200.0);
    CHECK(p.material.activation_kj_mol == 40.0);
    CHECK(p.material.longest_residence_s == 300.0);
    CHECK(p.material.sticks_c == 61.0);
  }

  TEST_CASE("machine and limits arrive where they belong") {
    profile::Profile const p = profile::parse(everything, "all.toml");
    CHECK(p.limits == motion::Limits{.acceleration_mm_s2 = 700,
                                     .travel_acceleration_mm_s2 = 1200,
                                     .travel_rule = motion::TravelRule::rapid,
                                     .retract_acceleration_mm_s2 = 1300,
                                     .stops_halt = true,
                                     .corner_rule = motion::CornerRule::rounding,
                                     .corner_rounding_mm = 0.03,
                                     .corner_jump_mm_s = {8, 9, 0.3, 4},
                                     .max_speed_mm_s = {200, 210, 10, 50},
                                     .max_acceleration_mm_s2 = {1000, 1100, 100, 3000}});
    CHECK(p.machine.shortest_cut_ms == 25.0);
    CHECK(p.machine.buffer_moves == 32);
    CHECK(p.machine.max_lines_per_s == 150.0);
    CHECK(p.machine.min_speed_mm_s == 1.0);
    CHECK(p.machine.g91_covers_e == false);
    CHECK(p.bounds.max_flow_mm3_s == 12.0);
    CHECK(p.bounds.burst_mm3 == 1.5);
    CHECK(p.bounds.max_burst_mm3_s == 20.0);
    CHECK(p.bounds.max_pressure_mpa == 8.0);
    CHECK(p.bounds.max_thrust_n == 500.0);
    CHECK(p.bounds.cold_below_c == 160.0);
  }

  TEST_CASE("deviations are kept under the full name of their key, ranges as a deviation") {
    profile::Profile const p = profile::parse(everything, "all.toml");
    CHECK(p.sd.size() == 9);
    CHECK(p.sd.at("feed.delivered_factor") == 0.02);
    CHECK(p.sd.at("feed.backlash_mm") == 0.03);
    CHECK(p.sd.at("lag.run_on_mm3") == 0.5);
    CHECK(p.sd.at("limits.max_flow_mm3_s") == 0.2);
    CHECK(p.sd.at("limits.burst_mm3") == 0.4);
    CHECK(p.sd.at("limits.max_burst_mm3_s") == 1.0);
    CHECK(p.sd.at("barrel.sections[0].length_mm") == 1.0);
    CHECK(p.sd.at("mechanics.parts[0].n_per_mm") == 90.0);
    CHECK_CLOSE(p.sd.at("material.consistency_pa_sn"), 2000 / std::sqrt(12.0), 1e-12);
  }

  TEST_CASE("a profile with the machine alone gets the stated defaults") {
    profile::Profile const p = profile::parse(machine_section, "shop/auger.toml");
    CHECK(p.title == "auger");
    CHECK(p.feed.slicer_diameter_mm == 1.75);
    CHECK(p.feed.delivered_factor == 1.0);
    CHECK(p.feed.backlash_mm == 0.0);
    CHECK(p.feed.reverse_factor == 1.0);
    CHECK(p.limits.travel_acceleration_mm_s2 == 800.0);
    CHECK(p.limits.travel_rule == motion::TravelRule::without_e);
    CHECK(std::isinf(p.limits.retract_acceleration_mm_s2));
    CHECK_FALSE(p.limits.stops_halt);
    CHECK(p.limits.corner_rule == motion::CornerRule::jump);
    CHECK(p.machine.shortest_cut_ms == 20.0);
    CHECK(p.machine.buffer_moves == 16);
    CHECK(p.machine.g91_covers_e);
    CHECK_FALSE(p.machine.max_lines_per_s);
    CHECK(p.bounds.cold_below_c == 170.0);
    CHECK_FALSE(p.bounds.max_flow_mm3_s);
    CHECK_FALSE(p.bounds.burst_mm3);
    CHECK_FALSE(p.bounds.max_burst_mm3_s);
    CHECK_FALSE(p.measured_lag);
    CHECK_FALSE(p.barrel);
    CHECK(p.sd.empty());
  }

  TEST_CASE("sections without keys say nothing") {
    std::string const text =
        "[feed]\n[lag]\n[barrel]\n[nozzle]\n[mechanics]\n[material]\n[limits]\n" +
        std::string{machine_section};
    profile::Profile const p = profile::parse(text, "p.toml");
    CHECK_FALSE(p.barrel);
    CHECK_FALSE(p.nozzle);
    CHECK(p.mechanics.empty());
    CHECK(profile::lag_source(p) == profile::Source::none);
  }

  TEST_CASE("leak and creep may be given before the run-on is measured") {
    std::string const text = "[lag]\nleak_per_s = 0.02\n" + std::string{machine_section};
    profile::Profile const p = profile::parse(text, "p.toml");
    CHECK(p.leak_per_s == 0.02);
    CHECK_FALSE(p.measured_lag);
  }

  TEST_CASE("the rounding rule needs a corner jump for E only") {
    std::string text{machine_section};
    text.replace(text.find("{ x = 10, y = 10, z = 0.4, e = 5 }"), 34, "{ e = 5 }");
    text += "corner_rule = \"rounding\"\ncorner_rounding_mm = 0.05\n";
    profile::Profile const p = profile::parse(text, "p.toml");
    CHECK(p.limits.corner_jump_mm_s == motion::PerAxis{600, 600, 40, 5});
  }

  TEST_CASE("the measured lag comes before the lag of the parts, and the parts before nothing") {
    profile::Profile p = profile::parse(everything, "all.toml");
    CHECK(profile::lag_source(p) == profile::Source::measured);
    CHECK(profile::lag_law(p).run_on_mm3 == 4.0);
    CHECK(profile::plant(p).leak_per_s == 0.01);
    CHECK(profile::plant(p).feed.delivered_factor == 0.9);

    auto const at_measured_flow = profile::parts_lag(p);
    REQUIRE(at_measured_flow);
    CHECK(at_measured_flow->law.at_flow_mm3_s == 6.0);
    p.measured_lag.reset();
    CHECK(profile::lag_source(p) == profile::Source::parts);
    CHECK(profile::lag_law(p).flow_index == 0.5);
    CHECK(profile::lag_law(p).at_flow_mm3_s == 5.0);

    p.nozzle.reset();
    CHECK(profile::lag_source(p) == profile::Source::none);
    CHECK_FALSE(profile::parts_lag(p));
    Error const error = error_of([&] { (void)profile::lag_law(p); });
    CHECK(
        std::string{error.what()}.starts_with("all.toml: the profile needs [lag] or the parts\n"));
    CHECK(error.hint().find("meltlag profile check all.toml") != std::string::npos);
    CHECK(error.hint().find("[nozzle] diameter_mm") != std::string::npos);
  }

  TEST_CASE("a schedule relies on the store less twice its deviation, and on none unmeasured") {
    profile::Profile p = profile::parse(everything, "all.toml");
    CHECK_CLOSE(profile::sure_burst_mm3(p), 1.5 - 2 * 0.4, 1e-15);
    p.sd["limits.burst_mm3"] = 0.8;
    CHECK(profile::sure_burst_mm3(p) == 0.0);
    p.sd.erase("limits.burst_mm3");
    CHECK(profile::sure_burst_mm3(p) == 1.5);
    p.bounds.burst_mm3.reset();
    CHECK(profile::sure_burst_mm3(p) == 0.0);
    std::string const none = "[limits]\nburst_mm3 = 0\n" + std::string{machine_section};
    CHECK(profile::parse(none, "p.toml").bounds.burst_mm3 == 0.0);
  }

  TEST_CASE("what the screw can do reaches the plant as it was measured, else without limit") {
    profile::Profile p = profile::parse(everything, "all.toml");
    CHECK(profile::plant(p).supply ==
          melt::SupplyLimits{.max_flow_mm3_s = 12, .burst_mm3 = 1.5, .max_burst_mm3_s = 20});
    p.bounds = {};
    CHECK_FALSE(profile::plant(p).supply.limited());
    CHECK(profile::plant(p).supply.burst_mm3 == 0.0);
  }

  TEST_CASE("a byte-order mark, CRLF and numbers without a point are read") {
    std::string text =
        "\xEF\xBB\xBF[lag]\r\nrun_on_mm3 = 5\r\nat_flow_mm3_s = 5\r\nflow_index = 1\r\n";
    text += machine_section;
    CHECK(profile::parse(text, "p.toml").measured_lag->run_on_mm3 == 5.0);
  }
}
