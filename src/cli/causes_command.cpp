// SPDX-License-Identifier: MIT
#include "causes_command.hpp"

#include <algorithm>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "build_rows.hpp"
#include "judging.hpp"
#include "meltlag/base/parallel.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/page/cause_pages.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/causes.hpp"
#include "meltlag/report/metrics.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "report_file.hpp"

namespace meltlag::cli {
namespace {

struct CausesCommandOptions {
  std::string profile, against, file, report;
  double at_flow_mm3_s = 0;
  bool json = false;
};

// Temperature that "10 °C hotter" starts from.
std::optional<double> melt_temperature(profile::Profile const& profile) {
  if (profile.measured_lag && profile.measured_lag->at_c) return profile.measured_lag->at_c;
  if (profile.material.at_c) return profile.material.at_c;
  if (profile.heat_barrier) return profile.heat_barrier->hot_end_c;
  return std::nullopt;
}

std::optional<double> misplaced_share(profile::Profile const& profile,
                                      melt::LagLaw const& law,
                                      std::string const& file) {
  if (file.empty()) return std::nullopt;
  judge::JudgeOptions options = judge_options(profile);
  options.plant.law = law;
  Notices again;  // reported once, by the residence time over the print
  return judge::predict(file, options, again, nullptr).before.misplaced_share();
}

// The print after each change.
std::vector<std::optional<double>> misplaced_shares(profile::Profile const& profile,
                                                    std::vector<melt::Change> const& changes,
                                                    std::string const& file) {
  std::vector<std::optional<double>> out(changes.size());
  auto const count = static_cast<double>(changes.size());
  in_parallel(changes.size(), 0, [&](std::size_t i) {
    auto const done = static_cast<double>(i);
    Task const task("the print after each change", done / count, (done + 1) / count);
    out[i] = misplaced_share(profile, changes[i].law, file);
  });
  return out;
}

void add_changes(profile::Profile const& profile,
                 melt::Machine const& machine,
                 report::CausesPage& page) {
  melt::WhatIf const what{.machine = machine,
                          .measured = profile.measured_lag,
                          .at_flow_mm3_s = page.at_flow_mm3_s,
                          .melt_c = melt_temperature(profile)};
  std::vector<melt::Change> changes = melt::plain_changes(what);
  changes.insert(changes.begin(), melt::as_it_is(what));
  std::vector<std::optional<double>> const shares = misplaced_shares(profile, changes, page.file);
  page.now = report::ChangeRow{std::move(changes.front()), shares.front()};
  for (std::size_t i = 1; i < changes.size(); ++i)
    page.changes.push_back(report::ChangeRow{std::move(changes[i]), shares[i]});
  page.small_changes = melt::small_changes(what);
}

void add_parts(profile::Profile const& profile, report::CausesPage& page) {
  auto const machine = profile::parts_machine(profile);
  if (!machine) {
    page.missing = profile::missing_parts(profile);
    return;
  }
  page.causes = melt::find_causes(*machine, profile.sd, page.at_flow_mm3_s);
  page.back_leak = melt::back_leak(*machine, page.at_flow_mm3_s);
  if (page.measured) page.finding = melt::compare_with_measured(*page.causes, *page.measured);
  add_changes(profile, *machine, page);
}

void add_residence(profile::Profile const& profile, report::CausesPage& page) {
  if (!profile.barrel) return;
  double const volume = melt::melt_volume_mm3(*profile.barrel);
  // Unknown: as a Newtonian melt, which spreads most.
  double const index = profile.material.flow_index.value_or(1.0);
  report::ResidencePage residence{
      .facts = melt::residence_facts({.melt_volume_mm3 = volume, .flow_index = index},
                                     page.at_flow_mm3_s),
      .longest_residence_s = profile.material.longest_residence_s,
      .print = {},
      .melt_volume_mm3 = volume};
  if (!page.file.empty()) {
    compare::ResidenceOptions options{.limits = profile.limits,
                                      .slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                                      .delivered_factor = profile.feed.delivered_factor,
                                      .melt_volume_mm3 = volume,
                                      .g91_covers_e = profile.machine.g91_covers_e,
                                      .hot_above_c = profile.bounds.cold_below_c};
    if (residence.longest_residence_s) {
      options.longest_residence_s = *residence.longest_residence_s;
      options.pause_s = std::max(0.1 * *residence.longest_residence_s,
                                 *residence.longest_residence_s - residence.facts.mean_s);
    }
    Notices notices;
    residence.print = compare::residence_over_print(page.file, options, notices);
    page.notices = notices.list();
  }
  page.residence = std::move(residence);
}

void add_barrier(profile::Profile const& profile, report::CausesPage& page) {
  page.barrier_lacks = profile.barrier_lacks;
  if (!profile.heat_barrier) return;
  melt::HeatBarrier const& barrier = *profile.heat_barrier;
  melt::Barrel below = *profile.barrel;
  below.melt_volume_mm3.reset();
  below.tube_melt_mm3 = 0;
  page.barrier =
      report::BarrierPage{.barrier = barrier,
                          .working = melt::barrier_state(barrier, page.at_flow_mm3_s),
                          .resting = melt::barrier_state(barrier, 0),
                          .spread = melt::barrier_spread(barrier, profile.sd, page.at_flow_mm3_s),
                          .sections_mm3 = melt::melt_volume_mm3(below),
                          .measured_melt_mm3 = profile.barrel->melt_volume_mm3};
}

report::CausesPage causes_page(profile::Profile const& profile,
                               CausesCommandOptions const& request) {
  report::CausesPage page{.title = profile.title,
                          .file = request.file,
                          .at_flow_mm3_s = request.at_flow_mm3_s > 0
                                               ? request.at_flow_mm3_s
                                               : profile::lag_flow_mm3_s(profile),
                          .missing = {},
                          .causes = {},
                          .measured = measured_lag(profile),
                          .finding = {},
                          .now = {},
                          .changes = {},
                          .small_changes = {},
                          .back_leak = {},
                          .residence = {},
                          .barrier = {},
                          .barrier_lacks = {},
                          .notices = {}};
  constexpr double parts_share = 0.9;
  std::optional<Task> task(std::in_place, "predicting", 0, parts_share);
  add_parts(profile, page);
  task.emplace("how long the melt stays", parts_share, 1);
  add_residence(profile, page);
  add_barrier(profile, page);
  return page;
}

report::AgainstPage against_page(profile::Profile const& profile,
                                 CausesCommandOptions const& request,
                                 double at_flow_mm3_s) {
  profile::Profile const old_build = profile::load(request.against, load_options());
  RowOptions const options{
      .at_flow_mm3_s = at_flow_mm3_s, .flows_mm3_s = three_flows(profile), .file = request.file};
  report::AgainstPage page{.file = request.file,
                           .at_flow_mm3_s = at_flow_mm3_s,
                           .old_build = build_row(old_build, options),
                           .new_build = build_row(profile, options),
                           .parts = {},
                           .prints = {}};
  auto const old_machine = profile::parts_machine(old_build);
  auto const new_machine = profile::parts_machine(profile);
  if (old_machine && new_machine)
    page.parts =
        melt::difference({*old_machine, old_build.sd}, {*new_machine, profile.sd}, at_flow_mm3_s);
  page.prints = compare::compare_prints(page.old_build.prints, page.new_build.prints);
  if (old_machine) page.old_causes = melt::find_causes(*old_machine, old_build.sd, at_flow_mm3_s);
  return page;
}

void write_report(ReportFile& file,
                  CausesCommandOptions const& request,
                  profile::Profile const& profile,
                  page::CausesReport report) {
  report.version = MELTLAG_VERSION;
  report.barrel = profile.barrel;
  report.nozzle = profile.nozzle;
  report.profiles.push_back({profile.title, profile_text(request.profile)});
  if (report.against)
    report.profiles.push_back({report.against->old_build.title, profile_text(request.against)});
  page::write_page(file.out(), report);
  file.commit();
}

void run_causes(CausesCommandOptions const& request) {
  profile::Profile const profile = profile::load(request.profile, load_options());
  std::optional<ReportFile> file;
  if (!request.report.empty())
    file.emplace(request.report, std::vector{request.profile, request.against, request.file});
  std::optional<Task> task;
  double const causes_share = request.against.empty() ? 1 : 0.6;
  task.emplace("", 0, causes_share);
  report::CausesPage const page = causes_page(profile, request);
  task.emplace("the older build", causes_share, 1);
  std::optional<report::AgainstPage> against;
  if (!request.against.empty()) against = against_page(profile, request, page.at_flow_mm3_s);
  if (file)
    write_report(*file,
                 request,
                 profile,
                 {.version = {},
                  .causes = page,
                  .against = against,
                  .barrel = {},
                  .nozzle = {},
                  .profiles = {}});
  if (request.json) {
    nlohmann::json out = report::to_json(page);
    if (against) out["against"] = report::to_json(*against);
    return print(report::dump(out));
  }
  print(report::to_text(page));
  if (against) print("\n" + report::to_text(*against));
}

}  // namespace

void add_causes_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<CausesCommandOptions>();
  CLI::App* const command = app.add_subcommand(
      "causes",
      "Say where in the machine the lag comes from, and what would help.\n"
      "Shares of the parts, residence time, heat barrier; --against an older build.\n"
      "Example: meltlag causes auger.toml --file part.gcode");
  command->add_option("PROFILE", request->profile, "The machine's profile (TOML)")->required();
  command->add_option("--against", request->against, "The profile of an older build");
  command
      ->add_option("--at-flow", request->at_flow_mm3_s, "Working flow, mm³/s; else that of [lag]")
      ->type_name("Q")
      ->check(CLI::PositiveNumber);
  command->add_option(
      "--file", request->file, "A print to predict as sliced and to compute the residence time in");
  command->add_option("--report", request->report, report_help);
  command->add_flag("--json", request->json, "Print it as JSON");
  command->callback([request, &status] {
    run_causes(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
