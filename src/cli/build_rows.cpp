// SPDX-License-Identifier: MIT
#include "build_rows.hpp"

#include <cmath>

#include "judging.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::cli {
namespace {

double sd_of(profile::Profile const& profile, char const* key) {
  auto const found = profile.sd.find(key);
  return found == profile.sd.end() ? 0 : found->second;
}

// A print's run-on at the flow that the others are given at, by the measured flow index.
double at_common_flow(profile::MeasuredPrint const& print, profile::Profile const& profile) {
  double const run_on = *print.run_on_mm3;
  double const common = profile::lag_flow_mm3_s(profile);
  if (!print.at_flow_mm3_s || *print.at_flow_mm3_s == common) return run_on;
  return run_on * std::pow(common / *print.at_flow_mm3_s, profile::lag_law(profile).flow_index);
}

compare::BuildPrints prints_of(profile::Profile const& profile) {
  compare::BuildPrints prints;
  for (profile::MeasuredPrint const& print : profile.measured) {
    if (print.run_on_mm3) prints.run_on_mm3.push_back(at_common_flow(print, profile));
    if (print.lag_s) prints.lag_s.push_back(*print.lag_s);
    if (print.blob_mm3) prints.blob_mm3.push_back(*print.blob_mm3);
    if (print.gap_mm) prints.gap_mm.push_back(*print.gap_mm);
  }
  return prints;
}

void take_parts(melt::Causes const& causes, report::BuildRow& row) {
  row.melt_volume_mm3 = causes.melt_volume_mm3;
  row.pressure_mpa = causes.pressure_mpa;
  row.thrust_n = causes.thrust_n;
  row.parts_run_on_mm3 = causes.run_on_mm3;
  row.residence_s = melt::mean_residence_s(causes.melt_volume_mm3.value, causes.at_flow_mm3_s);
}

}  // namespace

std::optional<melt::MeasuredLag> measured_lag(profile::Profile const& profile) {
  if (!profile.measured_lag) return std::nullopt;
  return melt::MeasuredLag{.law = *profile.measured_lag,
                           .run_on_sd_mm3 = sd_of(profile, "lag.run_on_mm3"),
                           .flow_index_sd = sd_of(profile, "lag.flow_index"),
                           .correlation = profile.lag_origin.run_on_flow_index_correlation};
}

std::array<double, 3> three_flows(profile::Profile const& profile) {
  double const top = profile.bounds.max_flow_mm3_s.value_or(2 * profile::lag_flow_mm3_s(profile));
  return {0.2 * top, 0.5 * top, top};
}

namespace {

// What the build makes of a file.
void predict_file(std::string const& file, profile::Profile const& profile, report::BuildRow& row) {
  Notices again;  // reported once, by the command
  judge::Judgement const judged = judge::predict(file, judge_options(profile), again, nullptr);
  row.as_sliced = judged.before;
  if (!says_adapted(file)) row.flow_set_right = judged.flow_set_right;
}

}  // namespace

report::BuildRow build_row(profile::Profile const& profile, RowOptions const& options) {
  report::BuildRow row{.title = profile.title,
                       .path = profile.path,
                       .date = profile.date,
                       .notes = profile.notes,
                       .lag_from = report::LagFrom::parts,
                       .run_on_mm3 = {},
                       .lags = {},
                       .melt_volume_mm3 = {},
                       .residence_s = {},
                       .pressure_mpa = {},
                       .thrust_n = {},
                       .parts_run_on_mm3 = {},
                       .prints = prints_of(profile),
                       .as_sliced = {},
                       .flow_set_right = {}};
  auto const machine = profile::parts_machine(profile);
  auto const measured = measured_lag(profile);
  if (!measured && !machine) (void)profile::lag_law(profile);  // says what is missing
  if (machine) take_parts(melt::find_causes(*machine, profile.sd, options.at_flow_mm3_s), row);
  if (!machine && profile.barrel)
    row.residence_s =
        melt::mean_residence_s(melt::melt_volume_mm3(*profile.barrel), options.at_flow_mm3_s);
  for (std::size_t i = 0; i < row.lags.size(); ++i) {
    double const flow = options.flows_mm3_s[i];
    row.lags[i] = {flow,
                   measured ? melt::lag_at_flow(*measured, flow)
                            : melt::find_causes(*machine, profile.sd, flow).lag_s};
  }
  row.run_on_mm3 = measured
                       ? melt::run_on_at_flow(*measured, options.at_flow_mm3_s)
                       : melt::find_causes(*machine, profile.sd, options.at_flow_mm3_s).run_on_mm3;
  if (measured) row.lag_from = report::LagFrom::measured;
  if (!options.file.empty()) predict_file(options.file, profile, row);
  return row;
}

}  // namespace meltlag::cli
