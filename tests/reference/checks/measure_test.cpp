// SPDX-License-Identifier: MIT
// Printed pieces whose measures can be worked out by hand.
#include "measure.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "support/near.hpp"

using namespace meltlag_reference;

namespace {

constexpr double pi = std::numbers::pi;
constexpr double e_per_mm = 0.12;

// Reaches any speed at once, so that speeds and flows are steps.
Machine immediate() {
  Machine m;
  m.limits.acceleration_mm_s2 = m.limits.travel_acceleration_mm_s2 = 1e9;
  m.limits.jump_mm_s = {1e4, 1e4, 1e4, 1e4};
  m.limits.max_acceleration_mm_s2 = {1e9, 1e9, 1e9, 1e9};
  return m;
}

HiddenMachine hidden(double run_on, double index) {
  HiddenMachine h;
  h.plant.run_on_mm3 = run_on;
  h.plant.flow_index = index;
  return h;
}

Measuring exact() {
  Measuring m;
  m.width_noise_mm = m.place_error_mm = m.height_error_mm = m.mass_noise_g = 0;
  m.width_step_mm = m.place_step_mm = m.mass_step_g = 0;
  return m;
}

SheetRow row(const std::string& kind, std::vector<std::size_t> lines, double at) {
  SheetRow r;
  r.kind = kind;
  r.trace = "1";
  r.at_mm.assign(lines.size(), at);
  r.lines = std::move(lines);
  return r;
}

double read_one(std::string_view gcode,
                const SheetRow& r,
                const HiddenMachine& h,
                const Measuring& how = exact()) {
  return measure_sheet(gcode, {r}, h, immediate(), how).at(0).value();
}

double section_of(double width, double h = 0.3) { return (width - (1 - pi / 4) * h) * h; }
double wanted() { return e_per_mm * Plant{}.area_mm2(); }

// 400 mm at 20 mm/s, 400 mm at 40 mm/s; 0.12 mm of E on each mm.
const char* const speed_step = "M83\nG1 X400 E48 F1200\nG1 X800 E48 F2400\n";
// 400 mm at 40 mm/s, then the head goes on without E, then starts again.
const char* const run_out = "M83\nG1 X400 E48 F2400\nG1 X500\nG1 X900 E48\n";

// A fence of two layers with all kinds of trouble: steps, a stop, retracts, a corner.
const char* const troubled =
    "M83\nG1 X60 E6 F600\nG1 X100 E4.8 F2400\nG1 E-1 F1800\nG1 X140\nG1 E1\n"
    "G1 X160 E2.4 F3600\nG1 Y1 E.1\nG1 X100 E7.2 F900\nG1 X60\nG1 E-.4 F1800\nG1 E.4\n"
    "G4 P300\nG1 X0 E7.2 F1500\n";

}  // namespace

TEST_SUITE("reference") {
  TEST_CASE("after a step in speed the section of a bead closes in exponentially") {
    const HiddenMachine h = hidden(1.5, 1);  // a lag of 0.3 s: 12 mm at 40 mm/s
    for (const double at : {3.0, 10.0, 25.0}) {
      const double jaw = std::sinh(2.0 / 12) / (2.0 / 12);  // mean of an exponential over 4 mm
      const double want = wanted() * (1 - 0.5 * std::exp(-at / 12) * jaw);
      CHECK_CLOSE(section_of(read_one(speed_step, row("width", {3}, at), h)), want, 2e-5);
    }
    Measuring pin = exact();
    pin.jaw_mm = 0.2;
    const double want = wanted() * (1 - 0.5 * std::exp(-5.0 / 12));
    CHECK_CLOSE(section_of(read_one(speed_step, row("width", {3}, 5), h, pin)), want, 1e-4);
  }

  TEST_CASE("the jaw reaches over the border of moves that go straight on, not round a corner") {
    const HiddenMachine h = hidden(1.5, 1);
    // Half of the jaw on the steady bead, half after the step.
    const double behind = 1 - 0.5 * 12 / 2 * (1 - std::exp(-2.0 / 12));
    const double want = wanted() * (1 + behind) / 2;
    CHECK_CLOSE(section_of(read_one(speed_step, row("width", {3}, 0), h)), want, 2e-5);
    const char* const corner = "M83\nG1 X400 E48 F1200\nG1 Y400 E48 F2400\n";
    CHECK_CLOSE(section_of(read_one(corner, row("width", {3}, 0), h)), wanted() * behind, 2e-5);
    CHECK_CLOSE(section_of(read_one(corner, row("width", {2}, 400), h)), wanted(), 1e-6);
  }

  TEST_CASE("a stopped screw leaves a tail after the power law") {
    const HiddenMachine h = hidden(3, 0.5);
    // dW/dt = -c W^2: Q = Q0/(1 + c W0 t)^2 with c = Qref/S^2, W0 = S sqrt(Q0/Qref)
    const double q0 = 40 * wanted(), w0 = 3 * std::sqrt(q0 / 5), cw = 5.0 / 9 * w0;
    const auto section = [&](double x) { return wanted() / std::pow(1 + cw * x / 40, 2); };
    Measuring pin = exact();
    pin.jaw_mm = 0.1;
    CHECK_CLOSE(section_of(read_one(run_out, row("width", {3}, 20), h, pin)), section(20), 1e-4);
    // Half of the width, not of the section.
    const double half = section_of((wanted() / 0.3 + (1 - pi / 4) * 0.3) / 2);
    const double tail = (std::sqrt(wanted() / half) - 1) / cw * 40;
    CHECK_NEAR(read_one(run_out, row("tail", {3}, 0), h), tail, 0.05);
  }

  TEST_CASE("locked calipers stop where the bead has come down to their width") {
    const HiddenMachine h = hidden(1.5, 1);
    SheetRow r = row("place_at_width", {3}, 3);
    r.ruler_mm = 403;
    r.note = "locked at 0.60 mm";
    const double jaw = std::sinh(2.0 / 12) / (2.0 / 12);
    const double way = 12 * std::log(wanted() * jaw / section_of(0.6));
    CHECK_NEAR(read_one(run_out, r, h), 400 + way, 0.01);
    // Printed the other way round, the ruler runs backwards.
    const char* const back = "M83\nG1 X-400 E48 F2400\nG1 X-500\n";
    CHECK_NEAR(read_one(back, r, h), 403 - (way - 3), 0.01);
  }

  TEST_CASE("a restarted bead appears after its gap") {
    const HiddenMachine h = hidden(1.5, 1);
    // 100 mm after the stop hardly anything is left; then section = wanted (1 - exp(-x/12)).
    const double half = section_of((wanted() / 0.3 + (1 - pi / 4) * 0.3) / 2);
    const double left = std::exp(-100.0 / 12);
    const double gap = 12 * std::log((1 - left) / (1 - half / wanted()));
    CHECK_NEAR(read_one(run_out, row("gap", {4}, 0), h), gap, 0.05);
  }

  TEST_CASE("a wall is the mean of its layers, weighed whole or by lines") {
    const std::string two_layers =
        "M83\nG1 X-50 E4 F6000\n; trace 1: steps\nG1 Z.3 X0 F1200\nG1 X100 E12\n"
        "G1 Z.6 X0 E0\nG1 X100 E20\n";
    const HiddenMachine h = hidden(0.01, 1);  // hardly any lag
    const double a = Plant{}.area_mm2();
    CHECK_CLOSE(section_of(read_one(two_layers, row("width", {5, 7}, 50), h)), 0.16 * a, 1e-6);
    CHECK_CLOSE(read_one(two_layers, row("mass", {5}, 0), h), 12 * a * 1.24e-3, 2e-3);
    CHECK_CLOSE(read_one(two_layers, row("mass", {}, 0), h), 32 * a * 1.24e-3, 2e-3);
    CHECK_NEAR(read_one(two_layers, row("height", {5, 7}, 0), h), 0.6, 1e-12);
    HiddenMachine lean = h;
    lean.plant.delivered_factor = 0.9;
    CHECK_CLOSE(read_one(two_layers, row("mass", {5}, 0), lean), 10.8 * a * 1.24e-3, 2e-3);
  }

  TEST_CASE("what the screw turns with is damped by the lag as a low pass damps") {
    HiddenMachine h = hidden(1.5, 1);
    h.pulse_share = 0.08;
    h.mm_per_turn = 2.4;  // 20 mm of bead; at 20 mm/s one turn a second
    Measuring pin = exact();
    pin.jaw_mm = 0.1;
    const HeadMotion motion = plan_motion(speed_step, immediate(), 1.75);
    const Print print = simulate_print(motion, h);
    std::vector<SheetRow> rows;
    for (int k = 0; k < 200; ++k) rows.push_back(row("width", {2}, 300 + 0.1 * k));
    double low = 9, high = 0;
    for (const auto& w : measure_sheet(motion, print, rows, pin)) {
      low = std::min(low, section_of(*w));
      high = std::max(high, section_of(*w));
    }
    const double amplitude = 0.08 / std::hypot(1, 2 * pi * 0.3);
    CHECK_CLOSE(high - low, 2 * amplitude * wanted(), 2e-3);
    CHECK_CLOSE(high + low, 2 * wanted(), 1e-3);
  }

  TEST_CASE("a creeping machine stores the same in the end, a share of it late") {
    HiddenMachine h = hidden(1.5, 1);
    h.creep_share = 0.4;
    h.creep_s = 2;
    // Steady at 20 mm/s after 20 s, 10 creep times.
    const char* const straight = "M83\nG1 X400 E48 F1200\n";
    const HeadMotion motion = plan_motion(straight, immediate(), 1.75);
    const Print print = simulate_print(motion, h);
    CHECK_CLOSE(print.left_mm3, 0.3 * 20 * wanted(), 1e-3);
    // At once only its own share fills: the bead starts with 0.6 of the lag, 0.18 s, 3.6 mm …
    Measuring pin = exact();
    pin.jaw_mm = 0.1;
    const auto start = measure_sheet(motion, print, {row("width", {2}, 0.5)}, pin);
    CHECK_CLOSE(section_of(*start[0]) / wanted(), 1 - std::exp(-0.5 / 3.6), 0.02);
    // … and the linear pair of stores follows the slower root of its characteristic equation:
    // s^2 + s (1/t + g/T + 1/T) + 1/(t T), t = 0.18 s, T = 2 s, g = c/(1-c)
    const double sum = 1 / 0.18 + (0.4 / 0.6 + 1) / 2, product = 1 / (0.18 * 2);
    const double slow = (sum - std::sqrt(sum * sum - 4 * product)) / 2;
    const auto late =
        measure_sheet(motion, print, {row("width", {2}, 60), row("width", {2}, 100)}, pin);
    const double first = 1 - section_of(*late[0]) / wanted();
    const double second = 1 - section_of(*late[1]) / wanted();
    CHECK_CLOSE(std::log(first / second) / 2, slow, 1e-3);  // 40 mm are 2 s
  }

  TEST_CASE("volume is conserved, and another integrator finds the same outflow") {
    for (const double index : {0.4, 0.7, 1.0}) {
      HiddenMachine h = hidden(6, index);
      h.plant.leak_per_s = 0.05;
      h.plant.delivered_factor = 0.93;
      const HeadMotion motion = plan_motion(troubled, Machine{}, 1.75);
      const Print print = simulate_print(motion, h);
      const double e = 6 + 4.8 - 1 + 1 + 2.4 + .1 + 7.2 + 7.2;
      CHECK_CLOSE(print.fed_mm3, e * h.plant.area_mm2() * 0.93, 1e-9);
      const double gone = print.out_mm3.back() + print.leaked_mm3 + print.left_mm3;
      CHECK_CLOSE(gone, print.fed_mm3, 1e-9);
      h.plant.backlash_mm = 0.2;
      h.plant.reverse_factor = 0.6;
      h.plant.max_flow_mm3_s = 4.5;  // the beads ask for 4.8, the purge for more
      h.plant.burst_mm3 = 0.7;
      h.plant.max_burst_mm3_s = 5;
      const Verdict v = judge(troubled, troubled, h.plant, Machine{});
      CHECK(v.starved_mm3 > 0.1);
      const Print again = simulate_print(motion, h);
      CHECK_CLOSE(again.out_mm3.back(), v.got_on_path_mm3 + v.uncounted_mm3, 1e-5);
      CHECK_CLOSE(again.left_mm3, v.run_on_end_mm3, 1e-4);
    }
  }

  TEST_CASE("widths do not depend on the steps taken") {
    const HeadMotion motion = plan_motion(troubled, Machine{}, 1.75);
    std::vector<SheetRow> rows;
    for (const std::size_t line : {3U, 5U, 7U, 9U, 10U, 14U}) {
      for (double at = 0.5; at < 20; at += 1) rows.push_back(row("width", {line}, at));
    }
    for (const double index : {0.3, 0.5, 1.0}) {
      for (const double run_on : {0.3, 3.0, 10.0}) {
        HiddenMachine h = hidden(run_on, index);
        h.creep_share = 0.2;
        h.creep_s = 3;
        const auto coarse = measure_sheet(motion, simulate_print(motion, h), rows, exact());
        const auto fine =
            measure_sheet(motion,
                          simulate_print(motion, h, {.longest_s = 5e-5, .steps_per_lag = 800}),
                          rows,
                          exact());
        double worst = 0;
        for (std::size_t i = 0; i < rows.size(); ++i) {
          worst = std::max(worst, std::abs(*coarse[i] - *fine[i]));
        }
        CAPTURE(index);
        CAPTURE(run_on);
        CHECK(worst < 5e-4);  // mm
      }
    }
  }

  TEST_CASE("errors have their stated sizes, belong to trace and row, and follow the seed") {
    const HeadMotion motion = plan_motion(speed_step, immediate(), 1.75);
    const HiddenMachine h = hidden(1.5, 1);
    const Print print = simulate_print(motion, h);
    const auto sd = [](const std::vector<double>& x) {
      double mean = 0, squares = 0;
      for (const double v : x) mean += v / static_cast<double>(x.size());
      for (const double v : x) squares += (v - mean) * (v - mean);
      return std::sqrt(squares / static_cast<double>(x.size()));
    };
    const auto many = [&](Measuring how, const SheetRow& r) {
      std::vector<double> out;
      for (how.seed = 1; how.seed <= 4000; ++how.seed) {
        out.push_back(*measure_sheet(motion, print, {r}, how)[0]);
      }
      return out;
    };
    Measuring how = exact();
    how.width_noise_mm = 0.05;
    CHECK_CLOSE(sd(many(how, row("width", {2}, 300))), 0.05, 0.04);  // ± 1.1 % by chance
    how = exact();
    how.place_error_mm = 1;
    const double slope = 0.5 * wanted() / 0.3 / 12 * std::exp(-25.0 / 12);  // of the width there
    how.jaw_mm = 0.1;
    CHECK_CLOSE(sd(many(how, row("width", {3}, 25))), slope, 0.05);
    how = exact();
    how.height_error_mm = 0.003;
    // dw/dh = -section/h^2 + 1 - pi/4
    CHECK_CLOSE(
        sd(many(how, row("width", {2}, 300))), 0.003 * (wanted() / 0.09 - (1 - pi / 4)), 0.04);
    SheetRow one = row("width", {2}, 200), two = row("width", {2}, 300), other = two;
    one.trace = two.trace = "4";
    other.trace = "5";
    const auto heights = measure_sheet(motion, print, {one, two, other}, how);
    CHECK_NEAR(*heights[0], *heights[1], 1e-6);
    CHECK(std::abs(*heights[0] - *heights[2]) > 1e-3);

    how = exact();
    how.outliers = 0.05;
    int off = 0;
    const double truth = wanted() / 0.3 + (1 - pi / 4) * 0.3;
    for (const double w : many(how, row("width", {2}, 300))) {
      const double by = std::abs(w - truth);
      if (by < 1e-6) continue;
      ++off;
      CHECK(by > 0.299);
      CHECK(by < 0.601);
    }
    CHECK_NEAR(off, 200, 45);  // 3 standard deviations
    const Measuring usual;
    CHECK(measure_sheet(motion, print, {one, two}, usual) ==
          measure_sheet(motion, print, {one, two}, usual));
  }

  TEST_CASE("a sheet is filled in and everything else stays as it was") {
    const std::string text =
        "trace,ruler_mm,kind,value,expected,lines,at_mm,note\n"
        "1,35.5,width,,1.00,2 3,10 12,\"thin, then thick\"\n"
        "2,40,place_at_width,,,3,5.5,locked at 0.80 mm\n";
    const SheetFile sheet = read_sheet(text);
    REQUIRE(sheet.rows.size() == 2);
    CHECK(sheet.rows[0].lines == std::vector<std::size_t>{2, 3});
    CHECK(sheet.rows[0].at_mm == std::vector<double>{10, 12});
    CHECK(sheet.rows[1].note == "locked at 0.80 mm");
    CHECK(write_sheet(sheet, {{}, {}}) == text);
    CHECK(write_sheet(sheet, {1.07, {}}).find("\n1,35.5,width,1.07,1.00,2 3,") !=
          std::string::npos);
    CHECK_THROWS(read_sheet("trace,kind\n1,width\n"));
  }

  TEST_CASE("a bent nozzle, friction and a wandering feed are as large as they are said to be") {
    // Steady flows hold run-ons whose difference after a stop tells the law.
    const auto left_after = [](const HiddenMachine& h, const char* gcode) {
      return simulate_print(plan_motion(gcode, immediate(), 1.75), h).left_mm3;
    };
    const char* const fast = "M83\nG1 X400 E48 F2400\n";
    HiddenMachine h = hidden(3, 0.5);
    const double q = 40 * wanted(), plain = 3 * std::sqrt(q / 5);
    CHECK_CLOSE(left_after(h, fast), plain, 1e-4);
    h.bend = 0.3;
    const double x = std::pow(left_after(h, fast) / 3, 2);
    CHECK_CLOSE(5 * x * std::exp(-0.3 * std::tanh(std::log(x) / 1.5)), q, 1e-4);
    h.bend = 0;
    h.hysteresis = 0.2;  // on the way up the pressure is a tenth higher
    CHECK_CLOSE(left_after(h, fast), plain / 1.1, 1e-3);

    h = hidden(0.05, 1);
    h.wander_share = 0.02;
    h.wander_s = 0.5;
    const HeadMotion motion = plan_motion("M83\nG1 X40000 E4800 F2400\n", immediate(), 1.75);
    const Print print = simulate_print(motion, h);
    double sum = 0, square = 0, apart = 0, before = 0;
    for (int i = 10; i < 1990; ++i) {  // every 20 mm are half a second, mean over 2 mm
      const double off = (print.until(20 * i + 2) - print.until(20 * i)) / 2 / wanted() - 1;
      sum += off;
      square += off * off;
      if (i > 10) apart += off * before;
      before = off;
    }
    CHECK_NEAR(sum / 1980, 0, 0.0025);
    CHECK_NEAR(std::sqrt(square / 1980), 0.02, 0.002);
    CHECK_NEAR(apart / square, std::exp(-1), 0.07);
  }

  TEST_CASE("a file on a hidden machine is judged as the judge does where the law holds") {
    Plant plant;
    plant.max_flow_mm3_s = 1e6;
    plant.run_on_mm3 = 2;
    plant.flow_index = 0.7;
    HiddenMachine h;
    h.plant = plant;
    const Case files = make_case(troubled, troubled, plant, Machine{});
    for (const Column column : {Column::as_sliced, Column::flow_set_right, Column::adapted}) {
      const double judged = judge_column(files, Machine{}, column).misplaced_percent;
      CHECK_NEAR(100 * misplaced_share(files, Machine{}, column, h), judged, 0.02 /*%*/);
      CHECK(judged > 5);
    }
  }
}
