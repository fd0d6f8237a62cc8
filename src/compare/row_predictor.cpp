// SPDX-License-Identifier: MIT
#include "row_predictor.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "row_machines.hpp"

namespace meltlag::compare {
namespace {

constexpr double slope_s = 0.05;      // over which the change with time is taken
constexpr double section_mm = 0.005;  // to either side, for the section that is asked for

std::size_t index_of(std::vector<double> const& sorted, double value) {
  return static_cast<std::size_t>(std::ranges::lower_bound(sorted, value) - sorted.begin());
}

void sort_out(std::vector<double>& values) {
  std::ranges::sort(values);
  values.erase(std::unique(values.begin(), values.end()), values.end());
}

double between(std::vector<double> const& ways,
               std::vector<double> const& volumes,
               double from_mm,
               double to_mm) {
  return volumes[index_of(ways, to_mm)] - volumes[index_of(ways, from_mm)];
}

}  // namespace

RowPredictor::RowPredictor(std::span<MeasuredRow const> rows,
                           Spots const& spots,
                           std::span<double const> times_s,
                           std::span<double const> curve_s,
                           CompareOptions const& options)
    : options_(options), curve_s_(curve_s.begin(), curve_s.end()) {
  for (std::size_t i = 0; i < rows.size(); ++i) {
    models_.push_back(model_of(rows[i], spots.rows[i], times_s[i]));
    add_marks(models_.back());
  }
  marks_.times_s.insert(marks_.times_s.end(), curve_s.begin(), curve_s.end());
  sort_out(marks_.ways_mm);
  sort_out(marks_.times_s);
}

RowPredictor::RowModel RowPredictor::model_of(MeasuredRow const& row,
                                              Spot const& spot,
                                              double time_s) const {
  RowModel model;
  model.kind = row.kind;
  model.time_s = time_s;
  if (by_time(row.kind)) {
    if (row.kind == MeasuredKind::force && !options_.thrust_n_per_mm3)
      throw Error("the profile does not say what thrust a run-on makes",
                  row.place,
                  "fill in [barrel], [nozzle], [mechanics] and [material], or leave forces out");
    return model;
  }
  model.start_s = spot.start_s;
  model.end_s = spot.end_s;
  model.here = {spot.from_mm, spot.to_mm};
  model.way_mm = spot.from_mm;
  if (row.kind == MeasuredKind::mass && !options_.density_g_cm3)
    throw Error("the density of the plastic is not known",
                row.place,
                "add density_g_cm3 to [material], or --density G_CM3");
  if (row.kind != MeasuredKind::width) return model;
  model.height_mm = options_.layer_height_mm.value_or(spot.layer_height_mm);
  if (!(model.height_mm > 0))
    throw Error("the layer height at this line cannot be determined from Z",
                row.place,
                "add --layer-height MM");
  double const length = spot.to_mm - spot.from_mm;
  model.way_mm = spot.from_mm + std::clamp(row.at_mm.value_or(length / 2), 0.0, length);
  if (!row.at_mm && length > 0) model.anywhere = {spot.from_mm, spot.to_mm};
  auto const jaw = [&](double off_mm) {
    return reading::jaw_range(
        {spot.straight_from_mm, spot.straight_to_mm}, model.way_mm + off_mm, options_.tools.jaw_mm);
  };
  model.before = jaw(-options_.tools.place_mm);
  model.here = jaw(0);
  model.behind = jaw(options_.tools.place_mm);
  return model;
}

void RowPredictor::add_marks(RowModel const& model) {
  auto const window = [&](reading::WayRange const& w) {
    marks_.ways_mm.push_back(w.from_mm);
    marks_.ways_mm.push_back(w.to_mm);
  };
  if (by_time(model.kind)) {
    for (double const off : {-slope_s, 0.0, slope_s}) marks_.times_s.push_back(model.time_s + off);
    return;
  }
  marks_.ways_mm.push_back(model.way_mm);
  window(model.here);
  if (model.kind == MeasuredKind::width) {
    window(model.before);
    window(model.behind);
    if (model.anywhere) window(*model.anywhere);
  } else {
    marks_.times_s.push_back(model.start_s);
    marks_.times_s.push_back(model.end_s);
  }
}

double RowPredictor::width(SimulatedPrint const& laid,
                           reading::WayRange const& w,
                           double h,
                           std::size_t m) const {
  double const out =
      laid.out_between(index_of(marks_.ways_mm, w.from_mm), index_of(marks_.ways_mm, w.to_mm), m);
  return w.to_mm > w.from_mm ? reading::bead_width_mm(out / w.length_mm(), h) : 0;
}

double RowPredictor::thrust_at_flow_n(double flow_mm3_s, double nozzle_c) const {
  return *options_.thrust_n_per_mm3 *
         melt::run_on_at_flow(melt::at_temperature(options_.plant.law, nozzle_c), flow_mm3_s);
}

double RowPredictor::at_time(SimulatedPrint const& laid,
                             MeasuredKind kind,
                             double t_s,
                             std::size_t m) const {
  std::size_t const i = index_of(marks_.times_s, t_s), at = i * laid.machines + m;
  if (kind == MeasuredKind::flow) return laid.flow_mm3_s[at];
  return *options_.thrust_n_per_mm3 * std::max(0.0, laid.run_on_mm3[at]);
}

RowValue RowPredictor::value(SimulatedPrint const& laid, std::size_t row, std::size_t m) const {
  RowModel const& model = models_[row];
  RowValue out;
  if (model.kind == MeasuredKind::width) {
    double const here = width(laid, model.here, model.height_mm, m);
    reading::SeenWidth const seen =
        reading::seen_width({width(laid, model.before, model.height_mm, m),
                             here,
                             width(laid, model.behind, model.height_mm, m)});
    out.value = seen.value_mm;
    out.place_sd = seen.place_sd_mm;
    if (model.anywhere)
      out.place_sd =
          std::hypot(out.place_sd, width(laid, *model.anywhere, model.height_mm, m) - here);
    out.thin = here < model.height_mm;
  } else if (model.kind == MeasuredKind::line_flow || model.kind == MeasuredKind::mass) {
    auto const out_until = [&](double t_s) {
      return laid.out_at_time_mm3[index_of(marks_.times_s, t_s) * laid.machines + m];
    };
    bool const on_way = model.here.to_mm > model.here.from_mm;
    bool const mass = model.kind == MeasuredKind::mass;
    double const volume = mass && on_way
                              ? laid.out_between(index_of(marks_.ways_mm, model.here.from_mm),
                                                 index_of(marks_.ways_mm, model.here.to_mm),
                                                 m)
                              : out_until(model.end_s) - out_until(model.start_s);
    out.value =
        mass ? volume * *options_.density_g_cm3 / 1000 : volume / (model.end_s - model.start_s);
  } else {
    out.value = at_time(laid, model.kind, model.time_s, m);
    out.per_second = (at_time(laid, model.kind, model.time_s + slope_s, m) -
                      at_time(laid, model.kind, model.time_s - slope_s, m)) /
                     (2 * slope_s);
  }
  return out;
}

double RowPredictor::lagless(SimulatedPrint const& laid, std::size_t row, std::size_t m) const {
  RowModel const& model = models_[row];
  if (model.kind != MeasuredKind::force) return value(laid, row, m).value;
  std::size_t const i = index_of(marks_.times_s, model.time_s);
  return thrust_at_flow_n(laid.flow_mm3_s[i * laid.machines + m], laid.moments[i].nozzle_c);
}

std::vector<double> RowPredictor::asked_ways(SimulatedPrint const& laid) const {
  std::vector<double> ways;
  auto const around = [&](double t_s) {
    double const way = laid.moments[index_of(marks_.times_s, t_s)].way_mm;
    ways.push_back(way - section_mm);
    ways.push_back(way + section_mm);
  };
  for (RowModel const& model : models_) {
    if (by_time(model.kind)) {
      around(model.time_s);
    } else {
      ways.push_back(model.here.from_mm);
      ways.push_back(model.here.to_mm);
    }
  }
  for (double const t : curve_s_) around(t);
  sort_out(ways);
  return ways;
}

double RowPredictor::asked_flow(Moment const& moment,
                                std::vector<double> const& ways_mm,
                                std::vector<double> const& asked_mm3) const {
  double const from = moment.way_mm - section_mm, to = moment.way_mm + section_mm;
  return between(ways_mm, asked_mm3, from, to) / (2 * section_mm) * moment.speed_mm_s;
}

double RowPredictor::asked(SimulatedPrint const& laid,
                           std::size_t row,
                           std::vector<double> const& ways_mm,
                           std::vector<double> const& asked_mm3) const {
  RowModel const& model = models_[row];
  if (by_time(model.kind)) {
    Moment const& moment = laid.moments[index_of(marks_.times_s, model.time_s)];
    double const flow = asked_flow(moment, ways_mm, asked_mm3);
    return model.kind == MeasuredKind::flow ? flow : thrust_at_flow_n(flow, moment.nozzle_c);
  }
  double const length = model.here.to_mm - model.here.from_mm;
  if (!(length > 0)) return std::numeric_limits<double>::quiet_NaN();
  double const volume = between(ways_mm, asked_mm3, model.here.from_mm, model.here.to_mm);
  if (model.kind == MeasuredKind::width)
    return reading::bead_width_mm(volume / length, model.height_mm);
  if (model.kind == MeasuredKind::mass) return volume * *options_.density_g_cm3 / 1000;
  return volume / (model.end_s - model.start_s);
}

CurvePoint RowPredictor::curve_point(SimulatedPrint const& laid,
                                     double time_s,
                                     std::vector<double> const& ways_mm,
                                     std::vector<double> const& asked_mm3) const {
  std::size_t const i = index_of(marks_.times_s, time_s), at = i * laid.machines;
  CurvePoint point{.print_s = time_s,
                   .line = laid.moments[i].line,
                   .predicted_mm3_s = laid.flow_mm3_s[at + as_profiled],
                   .without_lag_mm3_s = laid.flow_mm3_s[at + without_lag],
                   .asked_mm3_s = asked_flow(laid.moments[i], ways_mm, asked_mm3)};
  if (options_.thrust_n_per_mm3)
    point.thrust_n = *options_.thrust_n_per_mm3 * std::max(0.0, laid.run_on_mm3[at + as_profiled]);
  return point;
}

void RowPredictor::locate(SimulatedPrint const& laid, std::size_t row, ComparedRow& out) const {
  RowModel const& model = models_[row];
  if (by_time(model.kind)) {
    Moment const& moment = laid.moments[index_of(marks_.times_s, model.time_s)];
    out.line = moment.line;
    out.at_mm = moment.at_mm;
    out.print_s = model.time_s;
    return;
  }
  std::size_t const i = index_of(marks_.ways_mm, model.way_mm);
  out.line = out.measured.line;
  out.at_mm = laid.way_at_mm[i];
  out.print_s = model.kind == MeasuredKind::width ? laid.way_s[i] : model.start_s;
  out.layer_height_mm = model.height_mm;
}

}  // namespace meltlag::compare
