// SPDX-License-Identifier: MIT
// The three columns, the planner's stops and the profile, against cases worked out by hand.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "reference.hpp"
#include "support/near.hpp"

using namespace meltlag_reference;

namespace {

constexpr double unlimited = 1e9;

Program read_bare(std::string_view text) { return read_program(text, Machine{}, Plant{}); }

std::vector<double> kept(std::string_view text, double largest_run_on_mm3 = unlimited) {
  const Program p = read_bare(text);
  return find_kept_e(p, Plant{}, largest_run_on_mm3);
}

double time_of(std::string_view text, const Machine& machine) {
  const Program p = read_program(text, machine, Plant{});
  return total_time_s(plan(p, machine, PlanMode::full), p);
}

}  // namespace

TEST_SUITE("reference") {
  TEST_CASE("the flow set right is what a factor of one would have made of the same moves") {
    const std::string text = "M83\nG1 X20 E1.2 F900\nG1 X20 Y1\nG1 X0 E1.2\n";
    Plant plant, whole;
    plant.delivered_factor = 0.8;
    plant.max_flow_mm3_s = whole.max_flow_mm3_s = unlimited;
    const Case files = make_case(text, text, plant, Machine{});
    const Verdict right = judge_column(files, Machine{}, Column::flow_set_right);
    const Verdict truth = judge(text, text, whole, Machine{});
    CHECK_NEAR(right.misplaced_percent, truth.misplaced_percent, 1e-9);
    CHECK_NEAR(right.planned_s, truth.planned_s, 1e-12);
    CHECK(judge_column(files, Machine{}, Column::as_sliced).misplaced_percent >
          right.misplaced_percent + 5);
  }

  TEST_CASE("with its flow set right a retract is longer and takes its time") {
    const std::string text =
        "M83\nG1 X50 E5 F600\nM400\nG1 E-2 F1500\nG1 X59 F6000\nG1 E2 F1500\nM400\nG1 X70 E1\n";
    Plant plant;
    plant.delivered_factor = 0.5;
    plant.run_on_mm3 = 1e3;  // so that 2 mm of E are no unload
    const Case files = make_case(text, text, plant, Machine{});
    CHECK_NEAR(files.right.moves[1].e_mm, -4.0, 1e-12);
    const double more = judge_column(files, Machine{}, Column::flow_set_right).planned_s -
                        judge_column(files, Machine{}, Column::as_sliced).planned_s;
    CHECK_NEAR(more, 2 * 2.0 / 25, 1e-9);  // 2 mm at 25 mm/s, twice
  }

  TEST_CASE("purge, its retract and unloads stay; so does what gives an unload again") {
    const auto before_end = kept("M83\nG1 X9 E1\nG1 E-1\nG1 X5\nG1 E-3\n");
    CHECK(before_end[1] == 0);
    CHECK_NEAR(before_end[3], -3.0, 1e-12);
    const auto change = kept("M83\nG1 X9 E1\nG1 E-3\nT1\nG1 E3.3\nG1 X5 E1\n");
    CHECK_NEAR(change[1], -3.0, 1e-12);
    CHECK_NEAR(change[2], 3.0, 1e-12);  // 0.3 mm of restart extra are not the unload's
    const auto purged = kept("M83\nG1 X9 E1\nG1 E-2\nG1 X5\nG1 E9\nG1 X1 E1\n");
    CHECK_NEAR(purged[1], -2.0, 1e-12);
    CHECK_NEAR(purged[3], 9.0, 1e-12);
    const auto stop = kept("M83\nG1 X9 E1\nG1 E-2\nG1 X5\nG1 E2\nG1 X1 E1\n");
    for (const double e : stop) CHECK(e == 0);
    // 2 mm are 4.8 mm3: more than three times 1.5 mm3.
    const auto long_one = kept("M83\nG1 X9 E1\nG1 E-2\nG1 X5\nG1 E2\nG1 X1 E1\n", 1.5);
    CHECK_NEAR(long_one[1], -2.0, 1e-12);
    CHECK_NEAR(long_one[3], 2.0, 1e-12);
  }

  TEST_CASE("a bare retract stays until its amount is set in the file") {
    const auto e = kept("M83\nG1 X9 E1\nG10\nG11\nM207 S2\nG1 X1 E1\nG10\nG11\nG1 X9 E1\n");
    REQUIRE(e.size() == 7);
    CHECK(e[1] != 0);
    CHECK(e[2] != 0);
    CHECK(e[4] == 0);
    CHECK(e[5] == 0);
  }

  TEST_CASE("where it is not given, q is the greatest mean over a second of what beads ask for") {
    Machine at_once;
    at_once.limits.acceleration_mm_s2 = at_once.limits.travel_acceleration_mm_s2 = 1e9;
    at_once.limits.max_acceleration_mm_s2 = {1e9, 1e9, 1e9, 1e9};
    at_once.limits.jump_mm_s = {1e4, 1e4, 1e4, 1e4};
    const double area = Plant{}.area_mm2();
    const auto found = [&](std::string_view text) {
      const Program p = read_program(text, at_once, Plant{});
      return steady_flow(p, plan(p, at_once, PlanMode::full));
    };
    // 20 mm/s for 2 s, 0.05 mm of E a mm
    CHECK_CLOSE(found("M83\nG1 X40 E2 F1200\n"), area, 1e-6);
    // half a second of bead, half of travel, half of bead
    CHECK_CLOSE(found("M83\nG1 X10 E.5 F1200\nG1 X20\nG1 X30 E.5\n"), area / 2, 1e-6);
    // a slow second bead: the window starts within the first one, 0.9 s before its end
    CHECK_CLOSE(found("M83\nG1 X40 E2 F1200\nG1 X42 E.1\nG4 P5000\n"), area, 1e-6);
    // purge is no bead
    CHECK_CLOSE(found("M83\nG1 E50 F6000\nG1 X40 E2 F1200\n"), area, 1e-6);
    Machine soft = at_once;
    soft.limits.acceleration_mm_s2 = 10;
    soft.limits.jump_mm_s = {0, 0, 0, 0};
    // 20 mm up, 20 mm down
    const Program p = read_program("M83\nG1 X40 E2 F6000\n", soft, Plant{});
    // centred about the peak: 20 - 10 |t| over one second is 17.5 mm/s
    CHECK_CLOSE(steady_flow(p, plan(p, soft, PlanMode::full)), 17.5 * 0.05 * area, 1e-9);
  }

  TEST_CASE("starved plastic is counted, purge in a row of its own") {
    Plant plant;
    plant.max_flow_mm3_s = 2;
    Machine at_once;
    at_once.limits.acceleration_mm_s2 = 1e9;
    at_once.limits.max_acceleration_mm_s2 = {1e9, 1e9, 1e9, 1e9};
    at_once.limits.jump_mm_s = {1e4, 1e4, 1e4, 1e4};
    const std::string text = "M83\nG1 E10 F60\nG1 X40 E2 F1200\n";
    const Verdict v = judge(text, text, plant, at_once);
    const double area = plant.area_mm2();
    CHECK_NEAR(v.starved_kept_mm3, 10 * area - 2 * 10, 1e-5);
    CHECK_NEAR(v.starved_mm3, 2 * area - 2 * 2, 1e-5);
    CHECK(v.starved_line == 2);
    CHECK_NEAR(v.got_on_path_mm3 + v.uncounted_mm3 + v.run_on_end_mm3, 2 * (10 + 2), 1e-5);
  }

  TEST_CASE("what leaves on a travel is a string, where the travel is over two millimetres") {
    Plant plant;
    plant.max_flow_mm3_s = unlimited;
    const std::string beads =
        "M83\nG1 X40 E2 F1200\nG1 X40 Y1.5\nG1 X0 E2\nG1 X0 Y2.5\nG1 Z1\nG1 "
        "X0 Y5\nG1 X9 E1\n";
    const Verdict v = judge(beads, beads, plant, Machine{});
    double shorter = 0, longer = 0;
    for (const Cell& cell : v.cell_table) {
      if (!cell.prints) (cell.move == 1 ? shorter : longer) += cell.got_mm3;
    }
    REQUIRE(shorter > 0.1);
    REQUIRE(longer > 0.1);
    CHECK_NEAR(v.strings_mm3, longer, 1e-12);
    CHECK_NEAR(v.largest_string_mm3, longer, 1e-12);
    CHECK_NEAR(v.all_travels_mm3, shorter + longer, 1e-12);
    CHECK_NEAR(v.longest_string_mm, 1 + 1 + 2.5, 1e-9);
  }

  TEST_CASE("stops are counted by place, with their lines and their time") {
    const std::string text =
        "M83\nG1 X40 E2 F1200\nM400\nG1 E-1 F1500\nG1 E-.5\nM400\nG1 X60\nM400\nG1 E2\nM400\nG1 "
        "X80 "
        "E1 F1200\n";
    Machine at_once;
    at_once.limits.max_acceleration_mm_s2[axis_e] = 1e9;
    const Verdict v = judge(text, text, Plant{}, at_once);
    CHECK(v.stops == 2);
    CHECK(v.stop_lines == 2);
    CHECK_NEAR(v.stops_s, 3.5 / 25, 1e-6);
  }

  TEST_CASE("a move of E alone takes the lesser of two accelerations") {
    Machine machine;
    machine.limits.max_acceleration_mm_s2[axis_e] = 2000;
    machine.limits.jump_mm_s[axis_e] = 0;
    const std::string text = "M83\nG1 E-2 F1500\n";
    CHECK_NEAR(time_of(text, machine), 2.0 / 25 + 25.0 / 2000, 1e-9);
    machine.limits.retract_acceleration_mm_s2 = 500;
    CHECK_NEAR(time_of(text, machine), 2.0 / 25 + 25.0 / 500, 1e-9);
    CHECK_NEAR(time_of("M204 R1000\n" + text, machine), 2.0 / 25 + 25.0 / 1000, 1e-9);
    CHECK_NEAR(time_of("M204 R9000\n" + text, machine), 2.0 / 25 + 25.0 / 2000, 1e-9);
  }

  TEST_CASE("at a line of E alone the head passes at its jump, or stands where stops halt") {
    Machine machine;
    const Program p = read_bare("M83\nG1 X40 E2 F1200\nG1 E-1 F1500\nG1 E1\nG1 X80 E2\n");
    const auto timed = plan(p, machine, PlanMode::full);
    // E changes from +0.05 to -1 per mm: 5 mm/s of jump over 1.05; -1 to +1: 2.5 mm/s; the head
    // from 0 to 1 alone would be let through at 10.
    CHECK_NEAR(timed[1].v_in_mm_s, 5 / 1.05, 1e-9);
    CHECK_NEAR(timed[2].v_in_mm_s, 2.5, 1e-9);
    CHECK_NEAR(timed[3].v_in_mm_s, 5 / 0.95, 1e-9);
    Machine stiff;
    stiff.limits.jump_mm_s[axis_x] = 3;
    const Program same = read_program("M83\nG1 X40 E2 F1200\nG1 E-1 F1500\n", stiff, Plant{});
    CHECK_NEAR(plan(same, stiff, PlanMode::full)[1].v_in_mm_s, 3.0, 1e-9);
    machine.stops_halt = true;
    for (const std::size_t i : {1U, 2U, 3U}) {
      CHECK(plan(p, machine, PlanMode::full)[i].v_in_mm_s == 0);
    }
    machine.stops_halt = false;
    machine.rule = CornerRule::rounding;
    const auto rounded = plan(p, machine, PlanMode::full);
    CHECK(rounded[1].v_in_mm_s == 0);
    CHECK_NEAR(rounded[2].v_in_mm_s, 2.5, 1e-9);
    CHECK(rounded[3].v_in_mm_s == 0);
  }

  TEST_CASE("a travel with E takes the printing acceleration, unless that of travels is for all") {
    Machine machine;
    machine.limits.travel_acceleration_mm_s2 = 2000;
    const auto acceleration = [&](std::string_view emitted, std::size_t move) {
      const std::string original = "M83\nG1 X40 E2 F1200\nG1 X80\nG1 X120 E2\n";
      const Case files = make_case(original, emitted, Plant{}, machine);
      return plan(files.emitted, machine, PlanMode::full)[move].a_mm_s2;
    };
    const std::string dry = "M83\nG1 X40 E2 F1200\nG1 X60\nG1 X80\nG1 X120 E2\n";
    const std::string wet = "M83\nG1 X40 E2 F1200\nG1 X60 E-.1\nG1 X80 E.1\nG1 X120 E2\n";
    CHECK_NEAR(acceleration(dry, 1), 2000.0, 1e-9);
    CHECK_NEAR(acceleration(wet, 1), 800.0, 1e-9);
    CHECK_NEAR(acceleration(wet, 2), 800.0, 1e-9);
    machine.travel_rule = TravelRule::all_travels;
    CHECK_NEAR(acceleration(wet, 1), 2000.0, 1e-9);
    CHECK_NEAR(acceleration(wet, 2), 2000.0, 1e-9);
    CHECK_NEAR(acceleration(wet, 3), 800.0, 1e-9);
  }

  TEST_CASE("time is measured against the longer of as sliced and flow set right") {
    const std::string original =
        "M83\nG1 X20 E1 F600\nG1 E-1 F1500\nG1 X40\nG1 E1\nG1 X60 E1 F600\n";
    // The same with all E twice as much, as a factor of a half wants it.
    const std::string right =
        "; adapted by meltlag\nM83\nG1 X20 E2 F600\nG1 E-2 F1500\nG1 X40\nG1 E2\nG1 X60 E2 F600\n";
    const std::string slow =
        "; adapted by meltlag\nM83\nG1 X20 E2 F600\nG1 E-2 F150\nG1 X40\nG1 E2\nG1 X60 E2 F600\n";
    Plant plant;
    plant.delivered_factor = 0.5;
    plant.run_on_mm3 = 9;  // so that 1 mm of E is no unload
    plant.max_flow_mm3_s = unlimited;
    CHECK(check_invariants(original, right, plant, Machine{}).empty());
    const auto found = check_invariants(original, slow, plant, Machine{});
    REQUIRE(found.size() > 0);
    CHECK(found[0].find("planned time grows") == 0);
    InvariantOptions granted;
    granted.extra_time = 2;
    for (const auto& text : check_invariants(original, slow, plant, Machine{}, granted)) {
      CHECK(text.find("planned time grows") == std::string::npos);
    }
  }

  TEST_CASE("a file that misplaces more than its flow set right is named") {
    const std::string original = "M83\nG1 X20 E1 F600\n";
    Plant plant;
    plant.delivered_factor = 0.9;
    plant.max_flow_mm3_s = unlimited;
    const auto found = check_invariants(
        original, "; adapted by meltlag\nM83\nG1 X10 E.4 F600\nG1 X20 E.7\n", plant, Machine{});
    REQUIRE(found.size() == 1);
    CHECK(found[0].find("more plastic is misplaced") == 0);
    CHECK(check_invariants(original, "; adapted by meltlag\nM83\nG1 X20 E1.11111 F600\n", plant, {})
              .empty());
  }

  TEST_CASE("a profile fills in what it says and leaves the rest") {
    Plant plant;
    Machine machine;
    read_profile(
        "title = \"a # b\"\n[feed]\ndelivered_factor = 0.91 # weighed\nbacklash_mm = 0.1\n"
        "[lag]\nrun_on_mm3 = 2\nat_flow_mm3_s = 6.4\nflow_index = 0.58\n"
        "[machine]\nacceleration_mm_s2 = 700\ntravel_acceleration_mm_s2 = 900\n"
        "retract_acceleration_mm_s2 = 1200\ncorner_jump_mm_s = { x = 9, y = 8, z = 0.4, e = 4 }\n"
        "travel_acceleration_holds_for = \"all travels\"\nstops_halt = true\n"
        "[limits]\nmax_flow_mm3_s = 8.2\nburst_mm3 = 1\nmax_burst_mm3_s = 40\n",
        plant,
        machine);
    CHECK(plant.delivered_factor == 0.91);
    CHECK(plant.backlash_mm == 0.1);
    CHECK(plant.run_on_mm3 == 2);
    CHECK(plant.max_flow_mm3_s == 8.2);
    CHECK(plant.burst_mm3 == 1);
    CHECK(plant.max_burst_mm3_s == 40);
    CHECK(machine.limits.acceleration_mm_s2 == 700);
    CHECK(machine.limits.travel_acceleration_mm_s2 == 900);
    CHECK(machine.limits.retract_acceleration_mm_s2 == 1200);
    CHECK(machine.limits.jump_mm_s == PerAxis{9, 8, 0.4, 4});
    CHECK(machine.travel_rule == TravelRule::all_travels);
    CHECK(machine.stops_halt);
    CHECK(machine.limits.max_speed_mm_s == Machine{}.limits.max_speed_mm_s);
    CHECK_THROWS(read_profile("base = \"other.toml\"\n[lag]\nrun_on_mm3 = 1\n", plant, machine));
    CHECK_THROWS(read_profile("[feed]\ndelivered_factor = 1\n", plant, machine));
    CHECK_THROWS(read_profile("[lag]\nrun_on_mm3 = one\n", plant, machine));
  }
}
