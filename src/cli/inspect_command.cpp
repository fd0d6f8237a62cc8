// SPDX-License-Identifier: MIT
#include "inspect_command.hpp"

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "adapt_options.hpp"
#include "judging.hpp"
#include "meltlag/adapt/advice.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/gcode/recognise.hpp"
#include "meltlag/judge/slicer_settings.hpp"
#include "meltlag/melt/parts.hpp"
#include "meltlag/report/advice.hpp"
#include "meltlag/report/inspection.hpp"
#include "meltlag/report/metrics.hpp"
#include "output.hpp"
#include "profile_command.hpp"

namespace meltlag::cli {
namespace {

struct InspectCommandOptions {
  std::string file, profile;
  bool json = false, advise = false;
};

adapt::InspectOptions inspect_options(profile::Profile const& profile) {
  return {.limits = profile.limits,
          .slicer_diameter_mm = profile.feed.slicer_diameter_mm,
          .delivered_factor = profile.feed.delivered_factor,
          .g91_covers_e = profile.machine.g91_covers_e,
          .max_flow_mm3_s = profile.bounds.max_flow_mm3_s};
}

adapt::InspectOptions without_profile() {
  judge::JudgeOptions const common = common_options();
  return {.limits = common.limits, .slicer_diameter_mm = common.plant.feed.slicer_diameter_mm};
}

bool asks_too_much(report::InspectionTable const& table) {
  return table.max_flow_mm3_s && table.file.peak_flow_mm3_s > *table.max_flow_mm3_s;
}

struct Inspected {
  report::InspectionTable table{.file = {}};
  std::optional<adapt::Advice> advice;
  std::optional<judge::SlicerSettings> settings;
};

void print_inspected(Inspected const& found, InspectCommandOptions const& request) {
  auto const& [table, advice, settings] = found;
  if (request.json) {
    nlohmann::json out = report::to_json(table);
    if (advice) out["advice"] = report::to_json(*advice);
    if (settings) out["slicer_settings"] = report::to_json(*settings);
    return print(report::dump(out));
  }
  print(report::to_text(table));
  if (settings) print("\nThe slicer's own settings, at best\n" + report::to_text(*settings));
  if (advice)
    print("\nAdapting, or slicing again\n" +
          report::to_text(*advice,
                          asks_too_much(table) ? report::FlowAsked::above_it
                                               : report::FlowAsked::within_what_is_fed));
  if (request.profile.empty())
    print(
        "\nTimes are for a common small printer, volumes for 1.75 mm: give --profile for yours.\n");
}

void run_inspect(InspectCommandOptions const& request) {
  if (request.advise && request.profile.empty())
    throw CLI::ValidationError("--advise", "needs --profile: it depends on the machine's lag");
  gcode::require_gcode(request.file);
  Inspected found;
  auto& [table, advice, settings] = found;
  adapt::InspectOptions options = without_profile();
  if (!request.profile.empty()) {
    profile::Profile const profile = profile::load(request.profile, load_options());
    options = inspect_options(profile);
    table.max_flow_mm3_s = profile.bounds.max_flow_mm3_s;
    if (profile.nozzle) table.nozzle_mm = profile.nozzle->diameter_mm;
    table.longest_residence_s = profile.material.longest_residence_s;
    if (request.advise) {
      Task const task("what would help", 0, 1, Task::Rest::open);
      settings = judge::best_slicer_settings(request.file, judge_options(profile));
      advice = adapt::advise(request.file, adapt_options(profile));
    }
    if (profile.barrel) table.melt_volume_mm3 = melt::melt_volume_mm3(*profile.barrel);
  }
  Notices notices;
  table.file = adapt::inspect(request.file, options, notices);
  table.notices = notices.list();
  print_inspected(found, request);
}

}  // namespace

void add_inspect_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<InspectCommandOptions>();
  CLI::App* const command = app.add_subcommand(
      "inspect",
      "Show what a file holds and what to look at first.\n"
      "Units and modes, bounds, layers, codes, flow, and how long the melt stays.\n"
      "Example: meltlag inspect part.gcode --profile auger.toml");
  command->add_option("FILE", request->file, "The G-code file")->required();
  command->add_option("--profile",
                      request->profile,
                      "The machine's profile: right times, flow limit, residence time");
  command->add_flag(
      "--advise", request->advise, "Say whether slicing again, slower, is the better answer");
  command->add_flag("--json", request->json, "Print it as JSON");
  command->callback([request, &status] {
    run_inspect(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
