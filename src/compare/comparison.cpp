// SPDX-License-Identifier: MIT
#include "meltlag/compare/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "asked_for.hpp"
#include "conclusions.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/compare/clock.hpp"
#include "refit.hpp"
#include "row_machines.hpp"
#include "row_predictor.hpp"

namespace meltlag::compare {
namespace {

constexpr double stage_share = 0.05;
constexpr double thin_factor = 2;  // that much less certain are widths below the height
constexpr double same_way_share = 0.001, same_way_mm = 1;
constexpr std::size_t most_trace_points = 200'000;
constexpr double trace_step_s = 0.02, trace_margin_s = 5;

// The predicted record of one kind at equal steps over the whole print.
Trace trace_of(std::string const& path,
               MeasuredKind kind,
               Spots const& spots,
               CompareOptions const& options,
               Notices& notices) {
  double const end = spots.walked.planned_s + trace_margin_s;
  Trace trace{.from_s = -trace_margin_s, .step_s = trace_step_s, .values = {}};
  trace.step_s = std::max(trace_step_s, (end - trace.from_s) / most_trace_points);
  Marks marks;
  for (double t = trace.from_s; t <= end; t += trace.step_s) marks.times_s.push_back(t);
  SimulatedPrint laid =
      simulate_print(path, std::span(&options.plant, 1), marks, options.program, notices);
  trace.values = std::move(kind == MeasuredKind::flow ? laid.flow_mm3_s : laid.run_on_mm3);
  return trace;
}

Clock clock_of(std::string const& path,
               std::span<MeasuredRow const> rows,
               Spots const& spots,
               CompareOptions const& options,
               Notices& notices) {
  if (options.clock_offset_s) return {.offset_s = *options.clock_offset_s};
  // By the kind that has more rows.
  auto const count = [&](MeasuredKind kind) {
    return std::ranges::count(rows, kind, &MeasuredRow::kind);
  };
  MeasuredKind const kind = count(MeasuredKind::flow) >= count(MeasuredKind::force)
                                ? MeasuredKind::flow
                                : MeasuredKind::force;
  std::vector<std::pair<double, double>> points;
  for (MeasuredRow const& row : rows)
    if (row.kind == kind) points.emplace_back(row.t_s, row.value);
  std::ranges::stable_sort(points, {}, &std::pair<double, double>::first);
  std::vector<double> times, values;
  for (auto const& [t, value] : points) {
    times.push_back(t);
    values.push_back(value);
  }
  return find_clock(times, values, trace_of(path, kind, spots, options, notices));
}

// Moments between the first and the last row, and a little around them.
std::vector<double> curve_times(std::span<MeasuredRow const> rows,
                                Spots const& spots,
                                std::span<double const> times_s) {
  double from = std::numeric_limits<double>::infinity(), to = -from;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    bool const timed = by_time(rows[i].kind);
    from = std::min(from, timed ? times_s[i] : spots.rows[i].start_s);
    to = std::max(to, timed ? times_s[i] : spots.rows[i].end_s);
  }
  from = std::max(0.0, from - trace_margin_s);
  to = std::max(to, std::min(spots.walked.planned_s, to + trace_margin_s));
  std::vector<double> times;
  if (!(to > from)) return times;
  double const step = (to - from) / static_cast<double>(most_curve_points - 1);
  for (std::size_t k = 0; k < most_curve_points; ++k)
    times.push_back(from + step * static_cast<double>(k));
  return times;
}

// Volume asked for at each of `ways_mm` of the printed file. The original's way is the same but
// for the rounding of cut ends.
std::vector<double> asked_at(std::string const& printed,
                             std::string const& original,
                             std::vector<double> ways_mm,
                             double way_mm,
                             CompareOptions const& options) {
  Notices told_already;
  if (original.empty()) return asked_until(printed, ways_mm, options.program, told_already);
  double const whole = way_of(original, options.program, told_already);
  if (std::abs(whole - way_mm) > same_way_share * way_mm + same_way_mm) {
    throw Error(
        fmt::format("the head goes {:.0f} mm in it, and {:.0f} mm in {}", whole, way_mm, printed),
        {.file = original},
        "Give as --original the file that the other was made from.");
  }
  for (double& way : ways_mm) way *= way_mm > 0 ? whole / way_mm : 1;
  return asked_until(original, ways_mm, options.program, told_already);
}

double tool_sd(ComparedRow const& row, RowValue const& value, Tools const& tools, double clock_sd) {
  double const share = std::abs(row.predicted), moment = value.per_second * clock_sd;
  switch (row.measured.kind) {
    case MeasuredKind::width:
      return std::hypot(tools.width_mm * (value.thin ? thin_factor : 1), value.place_sd);
    case MeasuredKind::mass:
      return std::hypot(tools.mass_g, tools.density_share * share);
    case MeasuredKind::force:
      return std::hypot(tools.force_n, tools.force_share * share, moment);
    case MeasuredKind::line_flow:
    case MeasuredKind::flow:
      break;
  }
  return std::hypot(tools.flow_mm3_s, tools.flow_share * share, moment);
}

Stage stage_of(ComparedRow const& row) {
  double const slack = stage_share * std::max(std::abs(row.predicted), std::abs(row.without_lag));
  if (row.predicted < row.without_lag - slack) return Stage::building_up;
  return row.predicted > row.without_lag + slack ? Stage::running_on : Stage::steady;
}

struct Joiner {
  RowPredictor const& predictor;
  SimulatedPrint const& laid;
  Machines const& machines;
  CompareOptions const& options;
  double clock_sd_s;

  void join(std::size_t i, ComparedRow& row) const {
    RowValue const value = predictor.value(laid, i, as_profiled);
    row.predicted = value.value;
    row.without_lag = predictor.lagless(laid, i, without_lag);
    row.stage = stage_of(row);
    row.tool_sd = tool_sd(row, value, options.tools, clock_sd_s);
    predictor.locate(laid, i, row);
    double variance = 0, run_on_part = 0, index_part = 0;
    for (Influence const& influence : machines.influences) {
      double const change = predictor.value(laid, i, influence.machine).value - row.predicted;
      double const slope = change / influence.step, part = slope * influence.sd;
      variance += part * part;
      if (influence.what == Influence::What::run_on) {
        row.per_run_on = slope * influence.value;
        run_on_part = part;
      } else if (influence.what == Influence::What::factor) {
        row.per_factor = slope * influence.value;
      } else if (influence.what == Influence::What::index) {
        row.per_index = slope;
        index_part = part;
      }
    }
    variance += 2 * options.sd.run_on_flow_index_correlation * run_on_part * index_part;
    row.profile_sd = std::sqrt(std::max(0.0, variance));
  }
};

}  // namespace

std::string_view name_of(Stage stage) {
  switch (stage) {
    case Stage::building_up:
      return "building up";
    case Stage::steady:
      return "steady";
    case Stage::running_on:
      return "running on";
  }
  return {};
}

double ComparedRow::expected_sd() const { return std::hypot(tool_sd, profile_sd); }
bool ComparedRow::as_expected() const { return std::abs(off()) <= 2 * expected_sd(); }

namespace {

std::vector<double> print_times(std::span<MeasuredRow const> rows, double offset_s) {
  std::vector<double> times(rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) times[i] = rows[i].t_s + offset_s;
  return times;
}

}  // namespace

PrintComparison compare(std::string const& printed,
                        std::string const& original,
                        std::span<MeasuredRow const> rows,
                        CompareOptions const& options,
                        Notices& notices) {
  PrintComparison out;
  Notices again;  // the same file, the same notices
  std::optional<Task> task(std::in_place, "finding the places", 0, 0.1);
  Spots const spots = find_spots(printed, rows, options.program, notices);
  out.unknown_waits = spots.unknown_waits;
  out.planned_s = spots.walked.planned_s;
  out.beads = spots.beads;
  if (std::ranges::any_of(rows, by_time, &MeasuredRow::kind)) {
    task.emplace("matching the clocks", 0.1, 0.2);
    out.clock = clock_of(printed, rows, spots, options, again);
  }
  std::vector<double> const times = print_times(rows, out.clock ? out.clock->offset_s : 0);
  std::vector<double> const curve = curve_times(rows, spots, times);
  RowPredictor const predictor(rows, spots, times, curve, options);
  Machines const machines = machines_of(options.plant, options.sd);
  task.emplace("predicting", 0.2, 0.5);
  SimulatedPrint const laid =
      simulate_print(printed, machines.plants, predictor.marks(), options.program, again);
  std::vector<double> const ways = predictor.asked_ways(laid);
  task.emplace("reading what was asked for", 0.5, 0.6);
  std::vector<double> const asked = asked_at(printed, original, ways, spots.way_mm, options);
  Joiner const joiner{predictor, laid, machines, options, out.clock ? out.clock->sd_s : 0};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    ComparedRow& row = out.rows.emplace_back();
    row.measured = rows[i];
    joiner.join(i, row);
    row.asked = predictor.asked(laid, i, ways, asked);
    row.travel_s = spots.rows[i].travel_s;
  }
  for (double const t : curve) out.curve.push_back(predictor.curve_point(laid, t, ways, asked));
  task.emplace("looking for a better profile", 0.6, 1);
  std::vector<double> const left = refit(printed, predictor, laid, machines, options, out);
  conclude(options, spots, left, out);
  return out;
}

}  // namespace meltlag::compare
