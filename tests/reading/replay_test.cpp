// SPDX-License-Identifier: MIT
// What the replay lays down, against the slow print of tests/reference.
#include "meltlag/reading/replay.hpp"

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "measure.hpp"
#include "meltlag/reading/predictor.hpp"
#include "support/near.hpp"

namespace meltlag::reading {
namespace {

namespace ref = meltlag_reference;

// The bench machine, as the reference assumes it too.
PathOptions replay_bench() {
  return {.slicer_diameter_mm = 1.75,
          .limits = {.acceleration_mm_s2 = 800,
                     .travel_acceleration_mm_s2 = 800,
                     .corner_jump_mm_s = {10, 10, 0.4, 5},
                     .max_speed_mm_s = {300, 300, 20, 60},
                     .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}};
}

// A bar with steps in speed, a stop of the screw, a retract with its return, a pause, a corner.
constexpr char bar[] =
    "G21\nG90\nM83\nG28\nM109 S205\n"
    "G1 Z0.3 F600\n"
    "G1 X10 Y10 F4800\n"
    "G1 X40 Y10 E3.5 F600\n"    // 8
    "G1 X70 Y10 E3.5 F1800\n"   // 9
    "G1 X100 Y10 E3.5 F900\n"   // 10
    "G1 X130 Y10 F900\n"        // 11, the screw stands
    "G1 E-1.2 F1800\n"          // 12
    "G4 P1500\n"                // 13
    "G1 E1.2 F1800\n"           // 14
    "G1 X130 Y40 E3.5 F1200\n"  // 15
    "G1 X100 Y40 E3.5 F1200\n"  // 16
    "G1 X60 Y40 F1200\n"        // 17
    "G1 X20 Y40 E4.6 F1500\n";  // 18

struct Both {
  PrintedPath path;
  ref::HeadMotion motion;
};

Both read_both() {
  Notices notices;
  return {
      .path = read_path(gcode::LineSource::from_text(bar, "bar.gcode"), replay_bench(), notices),
      .motion = ref::plan_motion(bar, ref::Machine{}, 1.75)};
}

// Volumes on stretches of 3 mm all along the way: a whole and its place both have to be right.
void check_same(TestedPlant const& plant, ref::HiddenMachine const& hidden, double tolerance_mm3) {
  Both const both = read_both();
  std::vector<double> places;
  // Not at the moves' borders, where a standstill's volume counts on different sides.
  for (double at = 1.7; at < both.path.way_mm(); at += 3) places.push_back(at);
  std::vector<double> const out = Replay(both.path, places).out_mm3(plant);
  ref::Print const print = ref::simulate_print(both.motion, hidden);
  REQUIRE(out.size() == places.size());
  CHECK(out.back() > 40);
  for (std::size_t i = 0; i < places.size(); ++i) {
    CAPTURE(places[i]);
    CHECK_NEAR(out[i], print.until(places[i]), tolerance_mm3);
  }
}

TestedPlant tested(double run_on_mm3, double index) {
  return {.plant = {.law = {.run_on_mm3 = run_on_mm3,
                            .at_flow_mm3_s = 5,
                            .flow_index = index,
                            .at_c = {},
                            .activation_kj_mol = {}},
                    .feed = {.slicer_diameter_mm = 1.75}}};
}

ref::HiddenMachine hidden(double run_on_mm3, double index) {
  ref::HiddenMachine machine;
  machine.plant.run_on_mm3 = run_on_mm3;
  machine.plant.flow_index = index;
  return machine;
}

// 0.002 mm³ are a hundredth of a millimetre of width on 1 mm of bead.
constexpr double near_mm3 = 0.002;

TEST_SUITE("reading") {
  TEST_CASE("a replay lays down what the slow print does, for Newtonian and thinning melts") {
    for (double const run_on : {0.3, 1.5, 8.0})
      for (double const index : {1.0, 0.5}) {
        CAPTURE(run_on);
        CAPTURE(index);
        check_same(tested(run_on, index), hidden(run_on, index), near_mm3);
      }
  }

  TEST_CASE("a replay follows factor, backlash, weak reverse strokes and leak") {
    TestedPlant plant = tested(1.5, 0.6);
    ref::HiddenMachine machine = hidden(1.5, 0.6);
    plant.plant.feed.delivered_factor = machine.plant.delivered_factor = 0.9;
    plant.plant.feed.backlash_mm = machine.plant.backlash_mm = 0.3;
    plant.plant.feed.reverse_factor = machine.plant.reverse_factor = 0.7;
    plant.plant.leak_per_s = machine.plant.leak_per_s = 0.05;
    check_same(plant, machine, near_mm3);
  }

  TEST_CASE("a replay pulses with the screw's turn") {
    for (double const turn_mm : {2.0, 12.0}) {
      TestedPlant plant = tested(0.8, 0.7);
      ref::HiddenMachine machine = hidden(0.8, 0.7);
      machine.pulse_share = 0.2;
      machine.pulse_phase_rad = 0.9;
      machine.mm_per_turn = plant.e_mm_per_turn = turn_mm;
      // sin(φ + 0.9) = sin 0.9 · cos φ + cos 0.9 · sin φ
      plant.pulse_cos = 0.2 * std::sin(0.9);
      plant.pulse_sin = 0.2 * std::cos(0.9);
      check_same(plant, machine, 3 * near_mm3);
    }
  }

  TEST_CASE("a replay creeps: a share of the run-on is stored and given back slowly") {
    TestedPlant plant = tested(2, 0.7);
    ref::HiddenMachine machine = hidden(2, 0.7);
    plant.creep_share = machine.creep_share = 0.3;
    plant.creep_s = machine.creep_s = 8;
    check_same(plant, machine, 2 * near_mm3);
  }

  TEST_CASE("a replay ends at its last place, and places that repeat repeat their volume") {
    Both const both = read_both();
    std::vector<double> const places{20, 20, 50};
    std::vector<double> const out = Replay(both.path, places).out_mm3(tested(1.5, 1));
    REQUIRE(out.size() == 3);
    CHECK(out[0] == out[1]);
    CHECK(out[2] > out[1] + 1);
    CHECK(Replay(both.path, std::vector<double>{}).out_mm3(tested(1.5, 1)).empty());
  }

  TEST_CASE("the jaw reaches over moves that go straight on and ends where the straight does") {
    Both const both = read_both();
    ref::Print const print = ref::simulate_print(both.motion, hidden(1.5, 0.6));
    ref::Measuring exact;
    exact.width_noise_mm = exact.place_error_mm = exact.height_error_mm = exact.width_step_mm = 0;
    std::vector<Reading> readings;
    std::vector<ref::SheetRow> rows;
    auto const add = [&](std::int64_t line, double at_mm) {
      Reading reading;
      reading.trace = "1";
      reading.lines = {line};
      reading.at_mm = {at_mm};
      readings.push_back(reading);
      ref::SheetRow row;
      row.trace = "1";
      row.kind = "width";
      row.lines = {static_cast<std::size_t>(line)};
      row.at_mm = {at_mm};
      rows.push_back(row);
    };
    add(8, 29);   // a jaw over the step in speed
    add(9, 1);    // the same from the other side
    add(15, 29);  // at a corner
    add(16, 0.5);
    add(18, 39.5);  // at the end of the file
    // A place error of next to nothing: the prediction is that of the place alone.
    MeasuringErrors const errors{.place_mm = 1e-3};
    Predictor const predictor(both.path, readings, {.layer_height_mm = 0.3, .errors = errors});
    Laid const laid = predictor.simulate(tested(1.5, 0.6));
    auto const measured = ref::measure_sheet(both.motion, print, rows, exact);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      CAPTURE(i);
      REQUIRE(measured[i].has_value());
      CHECK_NEAR(predictor.predict(laid, i, 0.3).value, *measured[i], 0.01);
    }
  }

  TEST_CASE("a bead's width is that of a slab with round sides, down to no section") {
    double const h = 0.3, w = 1.1, gone = 1 - std::numbers::pi / 4;
    CHECK_NEAR(bead_width_mm(w * h - gone * h * h, h), w, 1e-12);
    CHECK_NEAR(bead_width_mm(0, h), gone * h, 1e-12);
    CHECK_NEAR(bead_width_mm(-1, h), gone * h, 1e-12);
  }
}

}  // namespace
}  // namespace meltlag::reading
