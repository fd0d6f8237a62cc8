// SPDX-License-Identifier: MIT
#include "compare_command.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "compare_words.hpp"
#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/page/comparison_page.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/report/comparison.hpp"
#include "meltlag/report/figures.hpp"
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

void check_words(CompareWords const& words) {
  bool const printed = !words.sheet.empty() || !words.mass.empty() || !words.took.empty();
  if (!printed && words.ticks.empty())
    throw CLI::ValidationError("compare", "needs MEASURED.csv, --mass, --took or --ticks");
  if (printed && (words.file.empty() || words.profile.empty()))
    throw CLI::ValidationError("compare", "needs the printed FILE and --profile");
  if (words.file == "-")
    throw Error("the printed file is read more than once and cannot be standard input",
                {.file = words.file},
                "save it to a file first");
  if (!words.output.empty() && words.mass.empty())
    throw CLI::ValidationError("compare", "--output writes the factor that --mass gives");
  if (!words.csv.empty() && words.sheet.empty())
    throw CLI::ValidationError("compare", "--csv writes the rows of MEASURED.csv");
}

void add_sheet(CompareWords const& words,
               compare::CompareOptions const& options,
               Notices& notices,
               Found& found) {
  Sheet const sheet = Sheet::read(words.sheet);
  std::vector<compare::MeasuredRow> const rows = compare::read_measured(sheet);
  found.report.comparison = compare::compare(words.file, words.original, rows, options, notices);
  found.report.remarks = sheet.remarks();
  found.report.tools = options.tools;
  if (words.csv.empty()) return;
  CsvFile csv(words.csv, {words.file, words.original, words.sheet, words.profile});
  report::write_csv(csv.stream(), *found.report.comparison);
  csv.commit();
}

void add_mass(CompareWords const& words,
              compare::CompareOptions const& options,
              Notices& notices,
              Found& found) {
  Overwrite const overwrite = words.force ? Overwrite::allowed : Overwrite::refused;
  if (!words.output.empty()) refuse_to_overwrite(words.output, overwrite);
  compare::PartMass const mass =
      compare::weigh_part(words.file, grams_of(words.mass), options, notices);
  found.report.mass = mass;
  if (words.output.empty()) return;
  write_profile(
      words.profile,
      words.output,
      {{"feed", "delivered_factor", profile::toml_number(mass.delivered_factor, 4)},
       {"feed", "delivered_factor_sd", profile::toml_number(mass.delivered_factor_sd, 2)}},
      overwrite);
  found.wrote =
      fmt::format("Wrote {}: the profile with this factor, comments kept.\n", words.output);
}

void add_time(CompareWords const& words,
              compare::CompareOptions const& options,
              Notices& notices,
              Found& found) {
  double const planned_s = compare::check_time(words.file, 1, options.program, notices).planned_s;
  Notices again;  // the same file, the same notices
  found.report.time =
      compare::check_time(words.file, seconds_of(words.took, planned_s), options.program, again);
  found.report.limits = options.program.limits;
}

Found find(CompareWords const& words) {
  Found found{
      .report = {.version = MELTLAG_VERSION,
                 .names = {.file = words.file, .sheet = words.sheet, .profile = words.profile},
                 .original = words.original,
                 .tick_sheet = words.ticks,
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
  if (!words.file.empty() && !words.profile.empty()) {
    profile::Profile const profile = profile::load(words.profile, load_options());
    compare::CompareOptions const options = compare_options(words, profile);
    Notices again;  // the same file, the same notices
    if (!words.sheet.empty()) add_sheet(words, options, notices, found);
    bool const first = words.sheet.empty();
    if (!words.mass.empty()) add_mass(words, options, first ? notices : again, found);
    if (!words.took.empty()) {
      Notices& told = first && words.mass.empty() ? notices : again;
      add_time(words, options, told, found);
    }
    found.report.profile = {profile.title, profile_text(words.profile)};
  }
  if (!words.ticks.empty()) found.report.ticks = compare::count_ticks(Sheet::read(words.ticks));
  found.report.notices = notices.list();
  return found;
}

std::string text_of(Found const& found) {
  page::ComparisonReport const& report = found.report;
  std::string text;
  auto const add = [&](std::string const& words) { text += (text.empty() ? "" : "\n") + words; };
  if (report.comparison) add(report::to_text(*report.comparison, report.names));
  if (!report.remarks.empty()) add("The sheet\n");
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

void run_compare(CompareWords const& words) {
  check_words(words);
  std::optional<ReportFile> file;
  if (!words.report.empty())
    file.emplace(words.report,
                 std::vector{words.file,
                             words.sheet,
                             words.original,
                             words.profile,
                             words.ticks,
                             words.csv,
                             words.output});
  Task const task("comparing");
  Found const found = find(words);
  if (file) {
    page::write_page(file->out(), found.report);
    file->commit();
  }
  if (!words.json) return print(text_of(found));
  nlohmann::json const page = json_of(found.report);
  if (!found.report.comparison) return print(report::dump(page));
  report::Out const out = [](std::string_view text) { print(text); };
  report::write_json(out, page, *found.report.comparison);
}

void add_tools(CLI::App& command, CompareWords& words) {
  auto const number = [&](char const* name, double& to, char const* about, char const* unit) {
    command.add_option(name, to, about)->check(CLI::PositiveNumber)->type_name(unit);
  };
  number("--width-error", words.tools.width_mm, "± of a width, mm (0.05)", "MM");
  number("--place-error", words.tools.place_mm, "± of a place, mm (1)", "MM");
  number("--jaw", words.tools.jaw_mm, "Length of the calipers' jaw, mm (4)", "MM");
  number("--scale-g", words.tools.mass_g, "± of a mass, g (0.02)", "G");
  number("--flow-error", words.tools.flow_mm3_s, "± of a flow, mm³/s (0.1), beside 5 %", "MM3_S");
  number("--force-error", words.tools.force_n, "± of a force, N (2), beside 3 %", "N");
  command.add_option("--layer-height", words.layer_height_mm, "mm (taken from Z)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option("--density", words.density_g_cm3, "g/cm³, for masses (the material's)")
      ->check(CLI::PositiveNumber)
      ->type_name("G_CM3");
  command
      .add_option(
          "--clock-offset", words.clock_offset_s, "Planned time − t_s, s (found by matching)")
      ->type_name("S");
}

}  // namespace

void add_compare_command(CLI::App& app, int& status) {
  auto const words = std::make_shared<CompareWords>();
  CLI::App* const command =
      app.add_subcommand("compare",
                         "Hold what was measured on a print against what was predicted.\n"
                         "Example: meltlag compare part.gcode measured.csv --profile auger.toml\n"
                         "Columns: gcode_line,width_mm,at_mm | gcode_line,flow_mm3_s |\n"
                         "gcode_line,to_line,mass_g | t_s,flow_mm3_s | t_s,force_n");
  command->add_option("FILE", words->file, "The G-code that was printed");
  command->add_option("MEASURED", words->sheet, "What was measured (CSV)");
  command->add_option("--profile", words->profile, "The machine's profile (TOML)");
  command->add_option("--original", words->original, "The file that FILE was adapted from");
  command->add_option("--csv", words->csv, "Write one row for each measured row");
  command->add_option("--report", words->report, report_help);
  command->add_flag("--json", words->json, "Print everything as JSON");
  command->add_option("--mass", words->mass, "What the whole part weighs, as 4.32g")
      ->type_name("G");
  command->add_option("--output", words->output, "Write the profile with the factor of --mass");
  command->add_flag("--force", words->force, "Replace a file that is there");
  command->add_option("--took", words->took, "How long the print took, as 16:05")
      ->type_name("TIME");
  command->add_option("--ticks", words->ticks, "A ticked sheet of `adapt --side-by-side`");
  add_tools(*command, *words);
  command->callback([words, &status] {
    run_compare(*words);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
