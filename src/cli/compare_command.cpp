// SPDX-License-Identifier: MIT
#include "compare_command.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "bar_options.hpp"
#include "compare_options.hpp"
#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/page/comparison_page.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/report/comparison.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/print_checks.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"
#include "report_file.hpp"

namespace meltlag::cli {
namespace {

// What was found, and what the text says beside it.
struct Found {
  page::ComparisonReport report;
  std::string wrote;  // of --output
};

void check_words(CompareCommandOptions const& request) {
  bool const rows = !request.sheet.empty() || !request.scan.empty();
  bool const printed = rows || !request.mass.empty() || !request.took.empty();
  if (!printed && request.ticks.empty())
    throw CLI::ValidationError("compare", "needs MEASURED.csv, --scan, --mass, --took or --ticks");
  if (!request.sheet.empty() && !request.scan.empty())
    throw CLI::ValidationError("compare", "takes MEASURED.csv or --scan, not both");
  if (printed && (request.file.empty() || request.profile.empty()))
    throw CLI::ValidationError("compare", "needs the printed FILE and --profile");
  if (request.file == "-")
    throw Error("the printed file is read more than once and cannot be standard input",
                {.file = request.file},
                "save it to a file first");
  if (!request.output.empty() && request.mass.empty())
    throw CLI::ValidationError("compare", "--output writes the factor that --mass gives");
  if (!request.csv.empty() && !rows)
    throw CLI::ValidationError("compare", "--csv writes the rows of MEASURED.csv or --scan");
}

void write_rows(CompareCommandOptions const& request, Found const& found) {
  if (request.csv.empty()) return;
  CsvFile csv(request.csv,
              {request.file, request.original, request.sheet, request.scan, request.profile});
  report::write_csv(csv.stream(), *found.report.comparison);
  csv.commit();
}

void add_sheet(CompareCommandOptions const& request,
               compare::CompareOptions const& options,
               Notices& notices,
               Found& found) {
  Sheet const sheet = Sheet::read(request.sheet);
  std::vector<compare::MeasuredRow> const rows = compare::read_measured(sheet);
  found.report.comparison =
      compare::compare(request.file, request.original, rows, options, notices);
  found.report.remarks = sheet.remarks();
  found.report.tools = options.tools;
  write_rows(request, found);
}

// A picture's widths are means over a short jaw whose place is known.
void add_scan(CompareCommandOptions const& request,
              compare::CompareOptions options,
              profile::Profile const& profile,
              Notices& notices,
              Found& found) {
  constexpr double place_mm = 0.2;
  CompareScanRequest picture = request.picture;
  picture.file = request.file;
  picture.picture = request.scan;
  if (profile.nozzle) picture.nozzle_mm = profile.nozzle->diameter_mm;
  CompareScan const scan = scan_for_comparison(picture);
  options.tools.width_mm = scan.width_sd_mm;
  options.tools.place_mm = place_mm;
  options.tools.jaw_mm = picture.every_mm;
  found.report.comparison =
      compare::compare(request.file, request.original, scan.rows, options, notices);
  found.report.remarks = {scan.remark};
  found.report.by_picture = true;
  found.report.tools = options.tools;
  write_rows(request, found);
}

void add_mass(CompareCommandOptions const& request,
              compare::CompareOptions const& options,
              Notices& notices,
              Found& found) {
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  if (!request.output.empty()) refuse_to_overwrite(request.output, overwrite);
  compare::PartMass const mass =
      compare::weigh_part(request.file, grams_of(request.mass), options, notices);
  found.report.mass = mass;
  if (request.output.empty()) return;
  write_profile(
      request.profile,
      request.output,
      {{"feed", "delivered_factor", profile::toml_number(mass.delivered_factor, 4)},
       {"feed", "delivered_factor_sd", profile::toml_number(mass.delivered_factor_sd, 2)}},
      overwrite);
  found.wrote =
      fmt::format("Wrote {}: the profile with this factor, comments kept.\n", request.output);
}

void add_time(CompareCommandOptions const& request,
              compare::CompareOptions const& options,
              Notices& notices,
              Found& found) {
  double const planned_s = compare::check_time(request.file, 1, options.program, notices).planned_s;
  Notices again;  // the same file, the same notices
  found.report.time = compare::check_time(
      request.file, seconds_of(request.took, planned_s), options.program, again);
  found.report.limits = options.program.limits;
}

Found find(CompareCommandOptions const& request) {
  Found found{.report = {.version = MELTLAG_VERSION,
                         .names = {.file = request.file,
                                   .sheet = request.scan.empty() ? request.sheet : request.scan,
                                   .profile = request.profile},
                         .original = request.original,
                         .tick_sheet = request.ticks,
                         .comparison = {},
                         .remarks = {},
                         .tools = {},
                         .mass = {},
                         .time = {},
                         .ticks = {},
                         .notices = {},
                         .profile = {}},
              .wrote = {}};
  Notices notices;
  if (!request.file.empty() && !request.profile.empty()) {
    profile::Profile const profile = profile::load(request.profile, load_options());
    compare::CompareOptions const options = compare_options(request, profile);
    Notices again;  // the same file, the same notices
    if (!request.sheet.empty()) add_sheet(request, options, notices, found);
    if (!request.scan.empty()) add_scan(request, options, profile, notices, found);
    bool const first = request.sheet.empty() && request.scan.empty();
    if (!request.mass.empty()) add_mass(request, options, first ? notices : again, found);
    if (!request.took.empty()) {
      Notices& told = first && request.mass.empty() ? notices : again;
      add_time(request, options, told, found);
    }
    found.report.profile = {profile.title, profile_text(request.profile)};
  }
  if (!request.ticks.empty()) found.report.ticks = compare::count_ticks(Sheet::read(request.ticks));
  found.report.notices = notices.list();
  return found;
}

std::string text_of(Found const& found) {
  page::ComparisonReport const& report = found.report;
  std::string text;
  auto const add = [&](std::string const& request) {
    text += (text.empty() ? "" : "\n") + request;
  };
  if (report.comparison) add(report::to_text(*report.comparison, report.names));
  if (!report.remarks.empty()) add(report.by_picture ? "The picture\n" : "The sheet\n");
  for (std::string const& remark : report.remarks) text += report::list_item(remark);
  if (report.mass) add(report::to_text(*report.mass) + found.wrote);
  if (report.time) add(report::to_text(*report.time, report.limits));
  if (report.ticks) add(report::to_text(*report.ticks));
  std::string const noted = report::to_text(report.notices);
  return noted.empty() ? text : text + "\nNoted:\n" + noted;
}

// All but the measured rows.
nlohmann::json json_of(page::ComparisonReport const& report) {
  nlohmann::json out = nlohmann::json::object();
  if (report.comparison) {
    out["comparison"] = report::summary_json(*report.comparison, report.names);
    out["comparison"]["remarks"] = report.remarks;
  }
  if (report.mass) out["mass"] = report::to_json(*report.mass);
  if (report.time) out["time"] = report::to_json(*report.time, report.limits);
  if (report.ticks) out["ticks"] = report::to_json(*report.ticks);
  return out;
}

void run_compare(CompareCommandOptions const& request) {
  check_words(request);
  std::optional<ReportFile> file;
  if (!request.report.empty())
    file.emplace(request.report,
                 std::vector{request.file,
                             request.sheet,
                             request.scan,
                             request.original,
                             request.profile,
                             request.ticks,
                             request.csv,
                             request.output});
  Task const task("comparing");
  Found const found = find(request);
  if (file) {
    page::write_page(file->out(), found.report);
    file->commit();
  }
  if (!request.json) return print(text_of(found));
  nlohmann::json const page = json_of(found.report);
  if (!found.report.comparison) return print(report::dump(page));
  report::Out const out = [](std::string_view text) { print(text); };
  report::write_json(out, page, *found.report.comparison);
}

void add_tools(CLI::App& command, CompareCommandOptions& request) {
  auto const number = [&](char const* name, double& to, char const* about, char const* unit) {
    command.add_option(name, to, about)->check(CLI::PositiveNumber)->type_name(unit);
  };
  number("--width-error", request.tools.width_mm, "± of a width, mm (0.05)", "MM");
  number("--place-error", request.tools.place_mm, "± of a place, mm (1)", "MM");
  number("--jaw", request.tools.jaw_mm, "Length of the calipers' jaw, mm (4)", "MM");
  number("--scale-g", request.tools.mass_g, "± of a mass, g (0.02)", "G");
  number("--flow-error", request.tools.flow_mm3_s, "± of a flow, mm³/s (0.1), beside 5 %", "MM3_S");
  number("--force-error", request.tools.force_n, "± of a force, N (2), beside 3 %", "N");
  command.add_option("--layer-height", request.layer_height_mm, "mm (taken from Z)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option("--density", request.density_g_cm3, "g/cm³, for masses (the material's)")
      ->check(CLI::PositiveNumber)
      ->type_name("G_CM3");
  command
      .add_option(
          "--clock-offset", request.clock_offset_s, "Planned time − t_s, s (found by matching)")
      ->type_name("S");
}

void add_picture(CLI::App& command, CompareCommandOptions& request) {
  command.add_option(
      "--scan",
      request.scan,
      "A picture of the print on the page of `calibrate print --rings --map` in place "
      "of MEASURED: one layer, beads 4 mm apart");
  add_bar_options(command, request.picture.bar_x_mm, request.picture.bar_y_mm);
}

}  // namespace

void add_compare_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<CompareCommandOptions>();
  CLI::App* const command =
      app.add_subcommand("compare",
                         "Hold what was measured on a print against what was predicted.\n"
                         "Example: meltlag compare part.gcode measured.csv --profile auger.toml\n"
                         "Columns: gcode_line,width_mm,at_mm | gcode_line,flow_mm3_s |\n"
                         "gcode_line,to_line,mass_g | t_s,flow_mm3_s | t_s,force_n");
  command->add_option("FILE", request->file, "The G-code that was printed");
  command->add_option("MEASURED", request->sheet, "What was measured (CSV)");
  command->add_option("--profile", request->profile, "The machine's profile (TOML)");
  command->add_option("--original", request->original, "The file that FILE was adapted from");
  command->add_option("--csv", request->csv, "Write one row for each measured row");
  command->add_option("--report", request->report, report_help);
  command->add_flag("--json", request->json, "Print everything as JSON");
  command->add_option("--mass", request->mass, "What the whole part weighs, as 4.32g")
      ->type_name("G");
  command->add_option("--output", request->output, "Write the profile with the factor of --mass");
  command->add_flag("--force", request->force, "Replace a file that is there");
  command->add_option("--took", request->took, "How long the print took, as 16:05")
      ->type_name("TIME");
  command->add_option("--ticks", request->ticks, "A ticked sheet of `adapt --side-by-side`");
  add_tools(*command, *request);
  add_picture(*command, *request);
  command->callback([request, &status] {
    run_compare(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
