// SPDX-License-Identifier: MIT
#include "calibrate_timing.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/timing.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"
#include "start_options.hpp"

namespace meltlag::cli {
namespace {

using fit::TimingFinding;
using fit::TimingJudgement;
using fit::TimingKind;
using fit::TimingVerdict;

struct TimingCommandOptions {
  std::string file, sheet, profile, start, end, output;
  std::vector<double> middle_mm;
  double nozzle_c = 0;
  bool read = false, plain_start = false, force = false, json = false;
  [[nodiscard]] Overwrite overwrite() const {
    return force ? Overwrite::allowed : Overwrite::refused;
  }
};

fit::TimingOptions timing_options(TimingCommandOptions const& request,
                                  profile::Profile const& profile) {
  fit::TimingOptions options{.slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                             .limits = profile.limits,
                             .nozzle_c = request.nozzle_c};
  if (request.middle_mm.size() == 3) {
    options.x_mm = request.middle_mm[0];
    options.y_mm = request.middle_mm[1];
    options.z_mm = request.middle_mm[2];
  }
  if (!request.start.empty()) options.start_code = read_text_file(request.start);
  if (!request.end.empty()) options.end_code = read_text_file(request.end);
  return options;
}

void write_program(TimingCommandOptions const& request, profile::Profile const& profile) {
  if (request.plain_start == !request.start.empty())
    throw CLI::ValidationError("calibrate timing",
                               "give either --start and --end, your own code, or --plain-start");
  for (std::string const& path : {request.file, request.sheet})
    refuse_to_overwrite(path, request.overwrite());
  auto const program = fit::make_timing_program(timing_options(request, profile));
  write_new_files({{request.sheet, fit::timing_sheet(program)}, {request.file, program.gcode}},
                  request.overwrite());
  double planned_s = 0;
  for (fit::TimingBlock const& block : program.blocks) planned_s += block.planned_s;
  print(fmt::format("Wrote {}, {}\n  {} blocks, {} and pauses; nothing is printed, the screw turns "
                    "a little\n",
                    request.file,
                    request.sheet,
                    program.blocks.size(),
                    report::duration(planned_s)) +
        report::list_item(
            "Read the cautions at the top of the file, stay beside the machine, have its switch at "
            "hand.") +
        fmt::format("Next: run it with a stopwatch, fill in took_s, then\n"
                    "  meltlag calibrate timing {} {} --profile {} --read --output NEW.toml\n",
                    request.file,
                    request.sheet,
                    request.profile));
}

// What of [machine] changes.
std::vector<ProfileEdit> edits_of(TimingJudgement const& judged, motion::Limits const& before) {
  std::vector<ProfileEdit> edits;
  auto const number = [&](char const* key, double value) {
    edits.push_back({"machine", key, profile::toml_number(value, 3)});
  };
  motion::Limits const& now = judged.limits;
  bool const acceleration = now.acceleration_mm_s2 != before.acceleration_mm_s2;
  if (acceleration) number("acceleration_mm_s2", now.acceleration_mm_s2);
  // Left out it would follow the other.
  if (acceleration || now.travel_acceleration_mm_s2 != before.travel_acceleration_mm_s2)
    number("travel_acceleration_mm_s2", now.travel_acceleration_mm_s2);
  if (now.travel_rule != before.travel_rule)
    edits.push_back({"machine",
                     "travel_acceleration_holds_for",
                     profile::toml_quoted(
                         now.travel_rule == motion::TravelRule::rapid ? "G0" : "moves without E")});
  for (TimingFinding const& finding : judged.findings)
    if (finding.kind == TimingKind::strokes && finding.verdict == TimingVerdict::differs)
      number("retract_acceleration_mm_s2", *finding.value);
  if (now.stops_halt != before.stops_halt)
    edits.push_back({"machine", "stops_halt", now.stops_halt ? "true" : "false"});
  if (now.corner_rounding_mm != before.corner_rounding_mm)
    number("corner_rounding_mm", now.corner_rounding_mm);
  if (now.corner_jump_mm_s != before.corner_jump_mm_s)
    edits.push_back({"machine",
                     "corner_jump_mm_s",
                     fmt::format("{{ x = {}, y = {}, z = {}, e = {} }}",
                                 profile::toml_number(now.corner_jump_mm_s[0], 3),
                                 profile::toml_number(now.corner_jump_mm_s[1], 3),
                                 profile::toml_number(now.corner_jump_mm_s[2]),
                                 profile::toml_number(now.corner_jump_mm_s[motion::axis_e]))});
  return edits;
}

char const* verdict_name(TimingVerdict verdict) {
  constexpr char const* names[] = {"holds", "differs", "cannot tell"};
  return names[static_cast<std::size_t>(verdict)];
}

std::string table_of(TimingJudgement const& judged) {
  report::Table const table{{{"block", "", 28, report::Align::left},
                             {"planned", "s", 9},
                             {"took", "s", 9},
                             {"", "", 14, report::Align::right}}};
  std::string text = table.header();
  for (TimingFinding const& finding : judged.findings)
    table.append_row(text,
                     {std::string{name_of(finding.kind)},
                      report::fixed(finding.planned_s, 1),
                      report::fixed(finding.took_s, 1),
                      verdict_name(finding.verdict)});
  text += "\n";
  for (TimingFinding const& finding : judged.findings) text += report::list_item(finding.words);
  return text;
}

nlohmann::json to_json(TimingJudgement const& judged) {
  nlohmann::json out = nlohmann::json::array();
  for (TimingFinding const& finding : judged.findings) {
    nlohmann::json one{{"block", std::string{name_of(finding.kind)}},
                       {"planned_s", finding.planned_s},
                       {"took_s", finding.took_s},
                       {"verdict", verdict_name(finding.verdict)},
                       {"key", finding.key},
                       {"in_words", finding.words}};
    if (finding.value) one["value"] = *finding.value;
    if (finding.sd) one["sd"] = *finding.sd;
    out.push_back(one);
  }
  return {{"blocks", out}};
}

void read_back(TimingCommandOptions const& request, profile::Profile const& profile) {
  if (!request.output.empty()) refuse_to_overwrite(request.output, request.overwrite());
  fit::TimingOptions const options = timing_options(request, profile);
  auto const blocks = fit::read_timing_blocks(read_text_file(request.file), request.file, options);
  Sheet const sheet = Sheet::read(request.sheet);
  auto const readings = fit::read_timing_sheet(sheet);
  if (readings.empty())
    throw Error("no row has a time",
                {.file = request.sheet},
                "write what the stopwatch said into the column took_s");
  TimingJudgement const judged = fit::judge_timing(blocks, readings, options);
  std::vector<ProfileEdit> const edits = edits_of(judged, options.limits);
  if (!request.output.empty())
    write_profile(request.profile, request.output, edits, request.overwrite());
  if (request.json) return print(report::dump(to_json(judged)));
  std::string text = table_of(judged);
  if (edits.empty())
    text += "[machine] holds, as far as these blocks tell.\n";
  else if (request.output.empty())
    text += fmt::format("With --output NEW.toml the profile would get\n{}", listed(edits));
  if (!request.output.empty())
    text += fmt::format("Wrote {} with\n{}", request.output, listed(edits));
  print(text);
}

void add_options(CLI::App& command, TimingCommandOptions& request) {
  command.add_option("FILE", request.file, "G-code to write, or that was run")->required();
  command.add_option("SHEET", request.sheet, "CSV to write for the times, or filled in")
      ->required();
  command.add_option("--profile", request.profile, "The machine's profile: [machine]")->required();
  command.add_flag("--read", request.read, "Judge the filled-in sheet");
  command.add_option(
      "--output", request.output, "With --read: write the profile with what was found");
  add_start_options(command, request.start, request.end, request.plain_start);
  command.add_option("--nozzle-c", request.nozzle_c, "Nozzle for the plain start, °C")
      ->type_name("C");
  command
      .add_option("--middle",
                  request.middle_mm,
                  "Where the moves begin, mm (60,60,20): they reach 50 mm to the right, 25 back")
      ->delimiter(',')
      ->expected(3)
      ->type_name("X,Y,Z");
  command.add_flag("--force", request.force, "Replace files that are there");
  command.add_flag("--json", request.json, "With --read: print it as JSON");
}

}  // namespace

void add_calibrate_timing(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<TimingCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "timing",
      "Check the printer's own timing with a stopwatch.\n"
      "Accelerations, corners, halts at moves of E alone. Nothing is printed.\n"
      "Example: meltlag calibrate timing timing.gcode times.csv\n"
      "           --profile auger.toml --plain-start --nozzle-c 205\n"
      "   then: meltlag calibrate timing timing.gcode times.csv\n"
      "           --profile auger.toml --read --output timed.toml");
  add_options(*command, *request);
  command->callback([request, &status] {
    profile::Profile const profile = profile::load(request->profile, load_options());
    request->read ? read_back(*request, profile) : write_program(*request, profile);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
