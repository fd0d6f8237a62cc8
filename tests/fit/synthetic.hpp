// SPDX-License-Identifier: MIT
// Hidden machines print the test piece, a person measures it, the fit is held against the truth.
// Print and measuring are those of tests/reference, which shares nothing with the rooms.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "measure.hpp"
#include "meltlag/fit/fit.hpp"
#include "meltlag/fit/plan_readings.hpp"
#include "meltlag/testpiece/test_piece.hpp"

namespace synthetic {

namespace ref = meltlag_reference;

// The bench machine of the samples; its turn is known to the profile but not to the plan.
inline meltlag::testpiece::PieceOptions piece_options(int layers) {
  meltlag::testpiece::PieceOptions options{
      .slicer_diameter_mm = 1.75,
      .limits = {.acceleration_mm_s2 = 800,
                 .travel_acceleration_mm_s2 = 800,
                 .corner_jump_mm_s = {10, 10, 0.4, 5},
                 .max_speed_mm_s = {300, 300, 20, 60},
                 .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}};
  options.layers = layers;
  options.layer_height_mm = 0.3;
  options.bead_width_mm = 1.0;
  options.nozzle_c = 205;
  return options;
}

// A piece with its plan of readings, ready to be printed by many machines.
struct Bench {
  meltlag::testpiece::PieceOptions options;
  meltlag::testpiece::TestPiece piece;
  meltlag::reading::PrintedPath path;
  meltlag::fit::ReadingPlan plan;
  ref::HeadMotion motion;
  std::vector<ref::SheetRow> rows;  // the widths of the plan
};

inline Bench make_bench(meltlag::testpiece::PieceOptions const& options, int readings) {
  Bench bench{.options = options, .piece = meltlag::testpiece::make_test_piece(options)};
  meltlag::Notices notices;
  bench.path = meltlag::reading::read_path(
      meltlag::gcode::LineSource::from_text(bench.piece.gcode, "TEST.gcode"),
      {.slicer_diameter_mm = options.slicer_diameter_mm, .limits = options.limits},
      notices);
  bench.plan =
      meltlag::fit::plan_readings(bench.piece,
                                  bench.path,
                                  {.feed = {.slicer_diameter_mm = options.slicer_diameter_mm},
                                   .readings = readings,
                                   .predictor = {.layer_height_mm = options.layer_height_mm}});
  bench.motion = ref::plan_motion(bench.piece.gcode, ref::Machine{}, options.slicer_diameter_mm);
  bench.rows = ref::read_sheet(meltlag::reading::write_sheet(bench.plan.readings)).rows;
  bench.rows.resize(static_cast<std::size_t>(bench.plan.chosen));
  return bench;
}

struct Truth {
  double run_on_mm3, flow_index, factor;  // at 5 mm³/s
  [[nodiscard]] double run_on_at(double flow) const {
    return run_on_mm3 * std::pow(flow / 5, flow_index);
  }
  [[nodiscard]] double lag_at(double flow) const { return flow_index * run_on_at(flow) / flow; }
};

inline Truth random_truth(ref::Dice& dice) {
  double const low = std::log(0.3), high = std::log(10.0);
  double const run_on = std::exp(low + (high - low) * dice.uniform());
  double const index = 0.3 + 0.7 * dice.uniform();
  return {run_on, index, 0.8 + 0.4 * dice.uniform()};
}

inline meltlag::fit::FitResult measure_and_fit(Bench const& bench,
                                               ref::HiddenMachine const& hidden,
                                               ref::Measuring how,
                                               double e_mm_per_turn = 0) {
  how.height_mm = bench.options.layer_height_mm;
  ref::Print const print = ref::simulate_print(bench.motion, hidden);
  auto const values = ref::measure_sheet(bench.motion, print, bench.rows, how);
  std::vector<meltlag::reading::Reading> readings;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!values[i]) continue;
    readings.push_back(bench.plan.readings[i]);
    readings.back().value = values[i];
  }
  return meltlag::fit::fit(bench.path,
                           readings,
                           {.feed = {.slicer_diameter_mm = bench.options.slicer_diameter_mm},
                            .e_mm_per_turn = e_mm_per_turn,
                            .predictor = {.layer_height_mm = bench.options.layer_height_mm}});
}

struct Errors {
  std::vector<double> run_on, index, lag;  // |off|: shares, absolute, share
  int covered_run_on = 0, covered_index = 0, covered_lag = 0, cases = 0;
  std::vector<double> run_on_pull, index_pull;  // off / stated deviation
  int extras = 0;

  static double median(std::vector<double> values) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
  }
  // Scatter of off/stated from its median absolute value; 1 where the stated one is right.
  static double pull(std::vector<double> const& pulls) { return median(pulls) / 0.6745; }

  void add(meltlag::fit::FitResult const& fit, Truth const& truth) {
    double const flow = fit.law.at_flow_mm3_s, sd = fit.run_on_mm3.sd / fit.run_on_mm3.value;
    double const off = std::log(fit.run_on_mm3.value / truth.run_on_at(flow));
    double const index_off = fit.flow_index.value - truth.flow_index;
    meltlag::fit::FlowLag const middle = fit.at_flows[1];
    double const lag_off = std::log(middle.lag_s.value / truth.lag_at(middle.flow_mm3_s));
    run_on.push_back(
        std::abs(meltlag::fit::at_flow(fit, 5).run_on_mm3.value / truth.run_on_at(5) - 1));
    index.push_back(std::abs(index_off));
    lag.push_back(std::abs(std::expm1(lag_off)));
    run_on_pull.push_back(std::abs(off) / sd);
    index_pull.push_back(std::abs(index_off) / fit.flow_index.sd);
    covered_run_on += std::abs(off) < 1.96 * sd;
    covered_index += std::abs(index_off) < 1.96 * fit.flow_index.sd;
    covered_lag += std::abs(lag_off) < 1.96 * middle.lag_s.sd / middle.lag_s.value;
    for (meltlag::fit::ExtraOutcome const& extra : fit.extras) extras += extra.taken;
    ++cases;
  }
};

struct Trouble {
  double outliers = 0;     // share of gross errors
  double pulse_share = 0;  // of the screw's output, once a turn
  bool turn_known = false;
};

inline Errors study(Bench const& bench, int plants, Trouble const& trouble, std::uint64_t seed) {
  ref::Dice dice(seed);
  Errors errors;
  for (int i = 0; i < plants; ++i) {
    Truth const truth = random_truth(dice);
    ref::HiddenMachine hidden;
    hidden.plant.run_on_mm3 = truth.run_on_mm3;
    hidden.plant.flow_index = truth.flow_index;
    hidden.plant.delivered_factor = truth.factor;
    hidden.pulse_share = trouble.pulse_share;
    hidden.mm_per_turn = 5 + 95 * dice.uniform();
    hidden.pulse_phase_rad = 6.28 * dice.uniform();
    ref::Measuring how;
    how.outliers = trouble.outliers;
    how.seed = dice.bits();
    errors.add(measure_and_fit(bench, hidden, how, trouble.turn_known ? hidden.mm_per_turn : 0),
               truth);
  }
  return errors;
}

}  // namespace synthetic
