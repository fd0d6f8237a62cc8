// SPDX-License-Identifier: MIT
// What the fit finds, names, leaves out and refuses.
#include "meltlag/fit/fit.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "fit/synthetic.hpp"
#include "meltlag/fit/recheck.hpp"
#include "meltlag/fit/row_shift.hpp"
#include "support/near.hpp"

namespace meltlag::fit {
using namespace testpiece;
using namespace reading;
namespace {

namespace ref = meltlag_reference;

constexpr double turn_mm = 20;

// Sixty widths and everything else that the sheet asks for; the screw's turn is known.
synthetic::Bench const& bench() {
  static synthetic::Bench const made = [] {
    PieceOptions options = synthetic::piece_options(6);
    options.e_mm_per_turn = turn_mm;
    synthetic::Bench one = synthetic::make_bench(options, 60);
    one.rows = ref::read_sheet(write_sheet(one.plan.readings)).rows;
    return one;
  }();
  return made;
}

ref::HiddenMachine machine(double run_on_mm3, double index, double factor) {
  ref::HiddenMachine hidden;
  hidden.plant.run_on_mm3 = run_on_mm3;
  hidden.plant.flow_index = index;
  hidden.plant.delivered_factor = factor;
  return hidden;
}

// A person with good calipers and a steady hand.
MeasuringErrors careful() { return {.width_mm = 0.02, .place_mm = 0.4}; }

std::vector<Reading> measured(ref::HiddenMachine const& hidden, ref::Measuring const& how) {
  ref::Print const print = ref::simulate_print(bench().motion, hidden);
  auto const values = ref::measure_sheet(bench().motion, print, bench().rows, how);
  std::vector<Reading> readings;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!values[i]) continue;
    readings.push_back(bench().plan.readings[i]);
    readings.back().value = values[i];
  }
  return readings;
}
std::vector<Reading> measured_carefully(ref::HiddenMachine const& hidden) {
  ref::Measuring how;
  how.width_noise_mm = careful().width_mm;
  how.place_error_mm = careful().place_mm;
  return measured(hidden, how);
}

FitResult fitted(std::vector<Reading> const& readings, double e_mm_per_turn = turn_mm) {
  return fit(bench().path,
             readings,
             {.feed = {.slicer_diameter_mm = 1.75},
              .e_mm_per_turn = e_mm_per_turn,
              .predictor = {.layer_height_mm = 0.3, .errors = careful()}});
}

ExtraOutcome const& outcome(FitResult const& result, Extra extra) {
  return *std::find_if(result.extras.begin(), result.extras.end(), [&](ExtraOutcome const& one) {
    return one.extra == extra;
  });
}
std::vector<std::string> taken(FitResult const& result) {
  std::vector<std::string> names;
  for (ExtraOutcome const& extra : result.extras)
    if (extra.taken) names.emplace_back(name_of(extra.extra));
  return names;
}

// The readings of a middling machine, to be spoilt in many ways.
std::vector<Reading> const& middling() {
  static std::vector<Reading> const made = measured_carefully(machine(2, 0.6, 1));
  return made;
}
FitResult const& middling_fit() {
  static FitResult const made = fitted(middling());
  return made;
}
std::vector<Reading> few(std::size_t count) {
  return {middling().begin(), middling().begin() + static_cast<std::ptrdiff_t>(count)};
}
int copy_of(Reading const& reading) {
  TraceMark const* const mark = bench().path.mark_of(reading.lines.front());
  return mark == nullptr ? 0 : mark->copy;
}
std::string group_of(Reading const& reading) {
  TraceMark const* const mark = bench().path.mark_of(reading.lines.front());
  return mark == nullptr ? std::string{} : mark->group;
}

TEST_SUITE("fit") {
  TEST_CASE("a few readings tell whether a lag still holds, and what moved") {
    RecheckOptions const profile{.law = {.run_on_mm3 = 3, .at_flow_mm3_s = 5, .flow_index = 0.6},
                                 .feed = {.slicer_diameter_mm = 1.75, .delivered_factor = 0.95},
                                 .run_on_sd_mm3 = 0.1,
                                 .flow_index_sd = 0.02,
                                 .factor_sd = 0.01,
                                 .predictor = {.layer_height_mm = 0.3, .errors = careful()}};
    auto const check = [&](double run_on, double factor) {
      std::vector<Reading> readings = measured_carefully(machine(run_on, 0.6, factor));
      std::erase_if(readings, [](Reading const& r) { return r.kind != ReadingKind::width; });
      readings.resize(12);
      return recheck(bench().path, readings, profile);
    };
    Recheck const same = check(3, 0.95);
    CAPTURE(same.chi_squared);
    CHECK(same.readings == 12);
    CHECK(same.p > 0.01);
    CHECK((same.level == RecheckLevel::holds || same.level == RecheckLevel::cannot_tell));
    Recheck const longer = check(6, 0.95);
    CHECK(longer.p < 0.05);
    REQUIRE(longer.level == RecheckLevel::moved);
    CHECK(longer.moved.front().parameter == Moved::run_on);
    CHECK(std::abs(longer.moved.front().to - 6) < 3 * longer.moved.front().sd + 0.6);
    Recheck const less = check(3, 0.75);
    CHECK(less.p < 0.05);
    CHECK(less.moved.front().parameter == Moved::delivered_factor);
    CHECK_CLOSE(less.moved.front().to, 0.75, 0.05);
    std::vector<Reading> two = measured_carefully(machine(3, 0.6, 0.95));
    two.resize(2);
    CHECK_THROWS_AS((void)recheck(bench().path, two, profile), Error);
  }

  TEST_CASE("values one row too low or too high are suspected, those in their rows are not") {
    FitOptions const options{.feed = {.slicer_diameter_mm = 1.75},
                             .e_mm_per_turn = turn_mm,
                             .predictor = {.layer_height_mm = 0.3, .errors = careful()}};
    for (double const run_on : {3.37}) {
      CAPTURE(run_on);
      std::vector<Reading> right = measured_carefully(machine(run_on, 0.6, 0.95));
      right.resize(20);  // as many as a person measures
      FitResult const fit_right = fitted(right);
      CHECK(row_misfit(fit_right) < 2);
      CHECK_FALSE(suspect_row_shift(bench().path, right, options, fit_right));
      for (int const by : {1}) {
        CAPTURE(by);
        std::vector<Reading> wrong = right;
        for (Reading& reading : wrong) reading.value.reset();
        for (std::size_t i = 0; i + 1 < right.size(); ++i)
          (by > 0 ? wrong[i + 1].value : wrong[i].value) =
              by > 0 ? right[i].value : right[i + 1].value;
        std::vector<Reading> filled;
        for (Reading const& reading : wrong)
          if (reading.value) filled.push_back(reading);
        auto const shift = suspect_row_shift(bench().path, wrong, options, fitted(filled));
        REQUIRE(shift);
        CHECK(shift->by == -by);
        CHECK(std::abs(shift->moved.run_on_mm3.value - fit_right.run_on_mm3.value) <
              2 * fit_right.run_on_mm3.sd);
      }
    }
  }

  TEST_CASE("readings without error give the machine back to a few per cent") {
    ref::Measuring exact;
    exact.width_noise_mm = exact.place_error_mm = exact.height_error_mm = 0;
    exact.width_step_mm = exact.place_step_mm = 0;
    struct Machine {
      double run_on_mm3, index, factor;
    };
    for (Machine const& m : {Machine{0.5, 0.9, 1.1}, Machine{2, 0.5, 0.9}, Machine{7, 0.8, 1}}) {
      CAPTURE(m.run_on_mm3);
      FitResult const result = fitted(measured(machine(m.run_on_mm3, m.index, m.factor), exact));
      CHECK_CLOSE(at_flow(result, 5).run_on_mm3.value, m.run_on_mm3, 0.05);
      CHECK_NEAR(result.flow_index.value, m.index, 0.05);
      CHECK_CLOSE(result.delivered_factor.value, m.factor, 0.02);
      CHECK_CLOSE(at_flow(result, 5).lag_s.value, m.index * m.run_on_mm3 / 5, 0.05);
      CHECK(taken(result).empty());
    }
  }

  TEST_CASE("a careful hand shows a hidden backlash, and it is taken with its size") {
    ref::HiddenMachine hidden = machine(2, 0.6, 1);
    hidden.plant.backlash_mm = 0.3;
    FitResult const result = fitted(measured_carefully(hidden));
    REQUIRE(taken(result) == std::vector<std::string>{"backlash or wind-up"});
    ExtraOutcome const& backlash = outcome(result, Extra::backlash);
    CHECK(backlash.chance < 0.003);
    CHECK_NEAR(backlash.value.value, 0.3, 3 * backlash.value.sd);
    CHECK(backlash.value.sd < 0.15);
    CHECK_CLOSE(at_flow(result, 5).run_on_mm3.value, 2, 0.15);
  }

  TEST_CASE("a careful hand shows a weak reverse stroke, and it is taken with its size") {
    ref::HiddenMachine hidden = machine(2, 0.6, 1);
    hidden.plant.reverse_factor = 0.7;
    FitResult const result = fitted(measured_carefully(hidden));
    REQUIRE(taken(result) == std::vector<std::string>{"reverse factor"});
    ExtraOutcome const& reverse = outcome(result, Extra::reverse_factor);
    CHECK_NEAR(reverse.value.value, 0.7, 3 * reverse.value.sd);
    CHECK(reverse.value.sd < 0.1);
  }

  TEST_CASE("pulsation is taken with size and place where the turn is known, else not tried") {
    ref::HiddenMachine hidden = machine(2, 0.6, 1);
    hidden.pulse_share = 0.2;
    hidden.mm_per_turn = turn_mm;
    hidden.pulse_phase_rad = 1;
    auto const readings = measured_carefully(hidden);
    FitResult const result = fitted(readings);
    ExtraOutcome const& pulse = outcome(result, Extra::pulsation);
    REQUIRE(pulse.taken);
    CHECK_NEAR(pulse.value.value, 0.2, 3 * pulse.value.sd);
    // 1 + 0.2·sin(φ + 1) is most at φ = π/2 − 1, 0.091 of a turn.
    CHECK_NEAR(pulse.pulse_turn, 0.091, 0.06);
    FitResult const unknown_turn = fitted({readings.begin(), readings.begin() + 8}, 0);
    CHECK_FALSE(outcome(unknown_turn, Extra::pulsation).tried);
  }

  TEST_CASE("nothing beyond the lag is taken where there is nothing") {
    FitResult const& result = middling_fit();
    CHECK(taken(result).empty());
    CHECK(outcome(result, Extra::backlash).tried);
    CHECK(outcome(result, Extra::pulsation).tried);
    CHECK(result.not_determined.empty());
    CHECK(result.scatter < 1.3);
    CHECK(result.drift_known);
    CHECK(std::abs(result.drift.value) < 3 * result.drift.sd);
    CHECK(std::none_of(result.rows.begin(), result.rows.end(), [](RowOutcome const& row) {
      return row.verdict == RowVerdict::queried || row.verdict == RowVerdict::feed_trouble;
    }));
  }

  TEST_CASE("a thin reading whose copies are fine is feed trouble, and is left out") {
    auto readings = middling();
    // On a trace with others: a single one could as well be a trace of higher layers.
    auto const on_its_trace = [&](std::string const& trace) {
      return std::count_if(readings.begin(), readings.end(), [&](Reading const& other) {
        return other.kind == ReadingKind::width && other.trace == trace;
      });
    };
    auto const thin = std::find_if(readings.begin(), readings.end(), [&](Reading const& reading) {
      return reading.kind == ReadingKind::width && *reading.value > 0.8 &&
             group_of(reading) == name_of(Group::large_step) && on_its_trace(reading.trace) > 3;
    });
    REQUIRE(thin != readings.end());
    thin->value = *thin->value - 0.3;
    FitResult const result = fitted(readings);
    RowOutcome const& row = result.rows[static_cast<std::size_t>(thin - readings.begin())];
    CHECK(row.verdict == RowVerdict::feed_trouble);
    CHECK(row.counted == 0);
    CHECK(result.readings == static_cast<int>(readings.size()) - 1);
    CHECK_CLOSE(at_flow(result, 5).run_on_mm3.value, 2, 0.15);
    // As much too wide, it is not the hopper.
    thin->value = *thin->value + 0.6;
    FitResult const wide = fitted(readings);
    CHECK(wide.rows[static_cast<std::size_t>(thin - readings.begin())].verdict ==
          RowVerdict::looks_wrong);
  }

  TEST_CASE("two readings written into each other's rows are named and hardly count") {
    auto readings = middling();
    auto const widths = [](Reading const& a, Reading const& b) { return *a.value < *b.value; };
    auto const end = std::find_if(readings.begin(), readings.end(), [](Reading const& r) {
      return r.kind != ReadingKind::width;
    });
    auto const thinnest = std::min_element(readings.begin(), end, widths);
    auto const widest = std::max_element(readings.begin(), end, widths);
    std::swap(thinnest->value, widest->value);
    FitResult const result = fitted(readings);
    for (auto const& swapped : {thinnest, widest}) {
      RowOutcome const& row = result.rows[static_cast<std::size_t>(swapped - readings.begin())];
      CAPTURE(row.row);
      CHECK(row.verdict != RowVerdict::fine);
      CHECK(row.counted < 0.1);
    }
    CHECK_CLOSE(at_flow(result, 5).run_on_mm3.value, 2, 0.15);
  }

  TEST_CASE("a reading that no machine could give is queried") {
    auto readings = few(20);
    readings[4].value = 4.2;
    CHECK(fitted(readings).rows[4].verdict == RowVerdict::queried);
  }

  TEST_CASE("less plastic on the last copies than on the first ones is reported as drift") {
    auto readings = middling();
    for (Reading& reading : readings) {
      if (reading.kind != ReadingKind::width) continue;
      if (copy_of(reading) == 1) reading.value = *reading.value * 1.06;
      if (copy_of(reading) == 3) reading.value = *reading.value * 0.94;
    }
    FitResult const result = fitted(readings);
    REQUIRE(result.drift_known);
    CHECK_NEAR(result.drift.value, -0.12, 0.05);
    CHECK(result.drift.value < -2 * result.drift.sd);
    CHECK_FALSE(fitted(few(6)).drift_known);
  }

  TEST_CASE("the scale is given what the fence holds, its lead-ins too, without purge and ruler") {
    std::vector<ref::SheetRow> rows(1);
    rows[0].trace = "fence";
    rows[0].kind = "mass";
    ref::HiddenMachine const hidden = machine(3, 0.6, 0.95);
    ref::Measuring how;
    how.mass_noise_g = how.mass_step_g = 0;
    ref::Print const print = ref::simulate_print(bench().motion, hidden);
    double const g = ref::measure_sheet(bench().motion, print, rows, how)[0].value();
    Reading mass;
    mass.trace = "fence";
    mass.kind = ReadingKind::mass;
    std::vector<Reading> const weighed{mass};
    Predictor const predictor(
        bench().path, weighed, {.layer_height_mm = 0.3, .density_g_cm3 = how.density_g_cm3});
    TestedPlant const plant{
        .plant = {.law = {.run_on_mm3 = 3,
                          .at_flow_mm3_s = 5,
                          .flow_index = 0.6,
                          .at_c = {},
                          .activation_kj_mol = {}},
                  .feed = {.slicer_diameter_mm = 1.75, .delivered_factor = 0.95}}};
    CHECK_CLOSE(predictor.predict(predictor.simulate(plant), 0, 0.3).value, g, 1e-3);
    double fence_mm3 = 0;
    TraceMark const& first = bench().path.marks.front();
    CHECK(first.group == "lead-in");
    for (PathMove const& move : bench().path.moves)
      if (move.timed.move.line > first.line) fence_mm3 += move.timed.move.volume_mm3;
    CHECK_CLOSE(g, 0.95 * fence_mm3 * how.density_g_cm3 / 1000, 0.01);
  }

  TEST_CASE("fewer readings say less, and how many more it takes is reported") {
    FitResult const all = middling_fit(), some = fitted(few(7));
    CHECK(some.run_on_mm3.sd / some.run_on_mm3.value > all.run_on_mm3.sd / all.run_on_mm3.value);
    CHECK(some.readings == 7);
    CHECK(some.readings_for_ten_percent > 0);
    CHECK(all.readings_for_ten_percent == 0);
  }

  TEST_CASE("the lag law and its ± at another flow follow from that at the reference flow") {
    FitResult const& result = middling_fit();
    FlowLag const there = at_flow(result, result.law.at_flow_mm3_s);
    CHECK_NEAR(there.run_on_mm3.value, result.run_on_mm3.value, 1e-12);
    CHECK_NEAR(there.run_on_mm3.sd, result.run_on_mm3.sd, 1e-12);
    CHECK(result.at_flows[0].flow_mm3_s < result.at_flows[1].flow_mm3_s);
    CHECK(result.at_flows[1].flow_mm3_s < result.at_flows[2].flow_mm3_s);
    for (FlowLag const& lag : result.at_flows) {
      double const expected =
          result.flow_index.value * lag.run_on_mm3.value / lag.flow_mm3_s;  // dW/dQ
      CHECK_CLOSE(lag.lag_s.value, expected, 1e-9);
      CHECK(lag.run_on_mm3.sd / lag.run_on_mm3.value >=
            0.999 * result.run_on_mm3.sd / result.run_on_mm3.value);
    }
    CHECK(result.nozzle_c == 205);
  }

  TEST_CASE("two rows only, or rows all alike, are refused with what to do") {
    auto const refused = [](std::vector<Reading> const& readings, std::string const& words) {
      try {
        fitted(readings);
        FAIL("accepted");
      } catch (Error const& error) {
        CAPTURE(error.what());
        CHECK(std::string{error.what()}.find(words) != std::string::npos);
        CHECK_FALSE(error.hint().empty());
      }
    };
    refused(few(2), "2 readings");
    refused({}, "0 readings");
    auto alike = few(20);
    for (Reading& reading : alike) reading.value = 1;
    refused(alike, "all 20 readings are 1");
  }
}

}  // namespace
}  // namespace meltlag::fit
