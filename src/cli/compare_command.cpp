// SPDX-License-Identifier: MIT
#include "compare_command.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>

#include "compare_words.hpp"
#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/report/comparison.hpp"
#include "meltlag/report/figures.hpp"
#include "meltlag/report/print_checks.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"

namespace meltlag::cli {
namespace {

// Text and JSON of everything that was asked for.
struct Page {
  std::string text;
  nlohmann::json json = nlohmann::json::object();

  void add(std::string const& name, std::string const& words, nlohmann::json values) {
    if (!text.empty()) text += '\n';
    text += words;
    json[name] = std::move(values);
  }
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
    throw CLI::ValidationError("compare", "--output writes the factor that --mass tells");
  if (!words.csv.empty() && words.sheet.empty())
    throw CLI::ValidationError("compare", "--csv writes the rows of MEASURED.csv");
}

void add_sheet(CompareWords const& words,
               compare::CompareOptions const& options,
               Notices& notices,
               Page& page) {
  Sheet const sheet = Sheet::read(words.sheet);
  std::vector<compare::MeasuredRow> const rows = compare::read_measured(sheet);
  compare::Comparison const comparison =
      compare::compare(words.file, words.original, rows, options, notices);
  if (!words.csv.empty()) {
    CsvFile csv(words.csv, {words.file, words.sheet, words.profile, words.original});
    report::write_csv(csv.stream(), comparison);
    csv.commit();
  }
  report::ComparisonNames const names{
      .file = words.file, .sheet = words.sheet, .profile = words.profile};
  std::string text = report::to_text(comparison, names);
  std::vector<std::string> const remarks = sheet.remarks();
  if (!remarks.empty()) text += "\nThe sheet\n";
  for (std::string const& remark : remarks) text += report::list_item(remark);
  nlohmann::json values = report::to_json(comparison, names);
  values["remarks"] = remarks;
  page.add("comparison", text, std::move(values));
}

void add_mass(CompareWords const& words,
              compare::CompareOptions const& options,
              Notices& notices,
              Page& page) {
  Overwrite const overwrite = words.force ? Overwrite::allowed : Overwrite::refused;
  if (!words.output.empty()) refuse_to_overwrite(words.output, overwrite);
  compare::PartMass const mass =
      compare::weigh_part(words.file, grams_of(words.mass), options, notices);
  std::string text = report::to_text(mass);
  if (!words.output.empty()) {
    write_profile(
        words.profile,
        words.output,
        {{"feed", "delivered_factor", profile::toml_number(mass.delivered_factor, 4)},
         {"feed", "delivered_factor_sd", profile::toml_number(mass.delivered_factor_sd, 2)}},
        overwrite);
    text += fmt::format("Wrote {}: the profile with this factor, comments kept.\n", words.output);
  }
  page.add("mass", text, report::to_json(mass));
}

void add_time(CompareWords const& words,
              compare::CompareOptions const& options,
              Notices& notices,
              Page& page) {
  double const planned_s = compare::check_time(words.file, 1, options.program, notices).planned_s;
  Notices again;  // the same file, the same notices
  compare::TimeCheck const check =
      compare::check_time(words.file, seconds_of(words.took, planned_s), options.program, again);
  page.add("time",
           report::to_text(check, options.program.limits),
           report::to_json(check, options.program.limits));
}

void run_compare(CompareWords const& words) {
  check_words(words);
  Page page;
  Notices notices;
  if (!words.file.empty() && !words.profile.empty()) {
    profile::Profile const profile = profile::load(words.profile, load_options());
    compare::CompareOptions const options = compare_options(words, profile);
    Notices again;  // the same file, the same notices
    if (!words.sheet.empty()) add_sheet(words, options, notices, page);
    if (!words.mass.empty()) add_mass(words, options, again, page);
    if (!words.took.empty()) add_time(words, options, again, page);
  }
  if (!words.ticks.empty()) {
    compare::Ticks const ticks = compare::count_ticks(Sheet::read(words.ticks));
    page.add("ticks", report::to_text(ticks), report::to_json(ticks));
  }
  if (words.json) return print(report::dump(page.json));
  print(page.text);
  std::string const noted = report::to_text(notices.list());
  if (!noted.empty()) print("\nNoted:\n" + noted);
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
  command.add_option("--layer-height", words.layer_height_mm, "mm (told from Z)")
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
  command->add_flag("--json", words->json, "Print everything as JSON");
  command->add_option("--mass", words->mass, "What the whole part weighs, as 4.32g");
  command->add_option("--output", words->output, "Write the profile with the factor of --mass");
  command->add_flag("--force", words->force, "Replace a file that is there");
  command->add_option("--took", words->took, "How long the print took, as 16:05")->type_name("M:S");
  command->add_option("--ticks", words->ticks, "A ticked sheet of `adapt --side-by-side`");
  add_tools(*command, *words);
  command->callback([words, &status] {
    run_compare(*words);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
