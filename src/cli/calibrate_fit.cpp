// SPDX-License-Identifier: MIT
#include "calibrate_fit.hpp"

#include <fmt/format.h>

#include <memory>
#include <optional>
#include <string>

#include "calibrate_path.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/fit/fit.hpp"
#include "meltlag/fit/row_shift.hpp"
#include "meltlag/page/fit_page.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/report/calibration.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"
#include "report_file.hpp"

namespace meltlag::cli {
namespace {

using fit::Extra;
using fit::FitResult;

struct FitCommandOptions {
  std::string file, sheet, profile, output, report;
  bool details = false, json = false, force = false, rows_hold = false;
  std::optional<double> layer_height_mm, e_mm_per_turn, density_g_cm3;
  double width_error_mm = 0.05, place_error_mm = 1, jaw_mm = 4;
};

fit::FitOptions fit_options(FitCommandOptions const& request,
                            profile::Profile const& profile,
                            reading::PrintedPath const& path,
                            std::vector<reading::Reading> const& readings) {
  std::optional<double> height = request.layer_height_mm;
  if (!height) height = reading::layer_height_mm(path, readings);
  if (!height)
    throw Error("the layer height cannot be determined from the lines that the sheet names",
                {.file = request.sheet},
                "add --layer-height MM");
  fit::FitOptions options{
      .feed = profile.feed,
      .leak_per_s = profile.leak_per_s,
      .e_mm_per_turn = request.e_mm_per_turn.value_or(profile.e_mm_per_turn.value_or(0)),
      .predictor = {.layer_height_mm = *height}};
  auto const factor_sd = profile.sd.find("feed.delivered_factor");
  if (factor_sd != profile.sd.end() && factor_sd->second > 0) options.factor_sd = factor_sd->second;
  options.predictor.density_g_cm3 =
      request.density_g_cm3.value_or(profile.material.density_g_cm3.value_or(0));
  options.predictor.errors.width_mm = request.width_error_mm;
  options.predictor.errors.place_mm = request.place_error_mm;
  options.predictor.errors.jaw_mm = request.jaw_mm;
  return options;
}

// What the fit changes in a profile, in the order of its sections.
struct Entry {
  std::string section, key, value;
};

void add_measured(std::vector<Entry>& entries,
                  std::string const& section,
                  std::string const& key,
                  fit::Value const& value) {
  entries.push_back({section, key, profile::toml_number(value.value, 4)});
  entries.push_back({section, key + "_sd", profile::toml_number(value.sd, 2)});
}

std::vector<Entry> entries_of(FitResult const& fit, profile::Profile const& profile) {
  std::vector<Entry> out;
  add_measured(out, "feed", "delivered_factor", fit.delivered_factor);
  add_measured(out, "lag", "run_on_mm3", fit.run_on_mm3);
  out.push_back({"lag", "at_flow_mm3_s", profile::toml_number(fit.law.at_flow_mm3_s, 4)});
  add_measured(out, "lag", "flow_index", fit.flow_index);
  out.push_back({"lag",
                 "run_on_flow_index_correlation",
                 profile::toml_number(fit.run_on_index_correlation, 2)});
  if (!std::isnan(fit.nozzle_c))
    out.push_back({"lag", "at_c", profile::toml_number(fit.nozzle_c, 4)});
  for (fit::ExtraOutcome const& extra : fit.extras) {
    if (!extra.taken) continue;
    switch (extra.extra) {
      case Extra::backlash:
        add_measured(out, "feed", "backlash_mm", extra.value);
        break;
      case Extra::reverse_factor:
        add_measured(out, "feed", "reverse_factor", extra.value);
        break;
      case Extra::leak:
        add_measured(out, "lag", "leak_per_s", extra.value);
        break;
      case Extra::creep:
        add_measured(out, "lag", "creep_share", extra.value);
        out.push_back({"lag", "creep_s", profile::toml_number(fit::assumed_creep_s)});
        break;
      case Extra::pulsation:
        break;  // no part of a profile: it is seen to by repairing the feed
    }
  }
  out.push_back({"lag", "measured_on", profile::toml_quoted(today())});
  if (!profile.material.name.empty())
    out.push_back({"lag", "measured_with", profile::toml_quoted(profile.material.name)});
  if (profile.nozzle)
    out.push_back({"lag", "measured_nozzle_mm", profile::toml_number(profile.nozzle->diameter_mm)});
  return out;
}

std::string edited(std::string text, std::vector<Entry> const& entries) {
  for (Entry const& entry : entries)
    text = profile::with_value(text, entry.section, entry.key, entry.value);
  return text;
}

std::string factor_words(FitResult const& fit, fit::FitOptions const& options) {
  double const sd = fit.delivered_factor.sd / fit.delivered_factor.value;
  std::string out = "\nThe delivered factor\n";
  out += report::list_item(fmt::format(
      "The screw delivers {} ± {} of what E asks for. adapt divides by it: leave the slicer's own "
      "flow setting where it was for this print, or the correction is applied twice.",
      report::number(fit.delivered_factor.value, 3),
      report::number(fit.delivered_factor.sd, 3)));
  if (options.factor_sd)
    out += report::list_item("What the profile already says of it is part of this figure.");
  else if (sd > 0.015)
    out += report::list_item(fmt::format(
        "Its ± of {} goes straight into every bead. A scale measures it better: {}weigh cups first "
        "(meltlag calibrate feed).",
        report::percent(sd),
        fit.dense ? "" : "fill in the heights and the mass, or "));
  return out;
}

std::string what_to_do(FitCommandOptions const& request, std::vector<Entry> const& entries) {
  if (!request.output.empty())
    return fmt::format(
        "\nWrote {}: the profile with these values, comments kept.\n"
        "Next: meltlag profile check {}\n",
        request.output,
        request.output);
  std::string out = "\nNo file was written. Add --output NEW.toml for a profile with\n";
  std::string section;
  for (Entry const& entry : entries) {
    if (entry.section != section) out += fmt::format("  [{}]\n", section = entry.section);
    out += fmt::format("  {} = {}\n", entry.key, entry.value);
  }
  return out;
}

// Values that fit far better one row up or down are no basis for a profile.
void refuse_shifted_rows(FitCommandOptions const& request,
                         reading::PrintedPath const& path,
                         Sheet const& sheet,
                         fit::FitOptions const& options,
                         FitResult const& fit) {
  auto const shift =
      fit::suspect_row_shift(path, reading::read_all_rows(sheet, path), options, fit);
  if (!shift) return;
  throw Error(
      fmt::format("the values seem to stand one row too {}: moved {} by one they fit far better "
                  "(run-on {} mm³ instead of {})",
                  shift->by < 0 ? "low" : "high",
                  shift->by < 0 ? "up" : "down",
                  report::plus_minus(shift->moved.run_on_mm3.value, shift->moved.run_on_mm3.sd),
                  report::plus_minus(fit.run_on_mm3.value, fit.run_on_mm3.sd)),
      {.file = request.sheet},
      "The map's numbers are those of the column row, not of the spreadsheet's edge. Move the "
      "values, "
      "or add --rows-hold if each stands where it was measured.");
}

void write_fit_page(ReportFile& report,
                    FitCommandOptions const& request,
                    profile::Profile const& profile,
                    page::FitPage page) {
  page.file = request.file;
  page.sheet = request.sheet;
  page.version = MELTLAG_VERSION;
  page.profile_title = profile.title;
  page.profile_text = profile_text(profile.path);
  page::write_page(report.out(), page);
  report.finish();
}

void run_fit(FitCommandOptions const& request) {
  std::optional<ReportFile> report;
  if (!request.report.empty())
    report.emplace(
        request.report,
        std::vector<std::string>{request.file, request.sheet, request.profile, request.output});
  profile::Profile const profile = profile::load(request.profile, load_options());
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  if (!request.output.empty()) refuse_to_overwrite(request.output, overwrite);
  reading::PrintedPath const path = printed_path(request.file, profile);
  Sheet const sheet = Sheet::read(request.sheet);
  std::vector<reading::Reading> const readings = reading::read_readings(sheet, path);
  if (readings.empty())
    throw Error("no row has a value: there is nothing to fit",
                {.file = request.sheet},
                "measure the places that the rows name and fill in the column value");
  fit::FitOptions const options = fit_options(request, profile, path, readings);
  Task const task("fitting");
  FitResult const fit = fit::fit(path, readings, options);
  if (!request.rows_hold) refuse_shifted_rows(request, path, sheet, options, fit);
  std::vector<Entry> const entries = entries_of(fit, profile);
  if (report)
    write_fit_page(*report, request, profile, {.fit = fit, .path = path, .readings = readings});
  if (!request.output.empty())
    write_new_file(request.output, edited(read_text_file(request.profile, ""), entries), overwrite);
  if (report) report->commit();
  if (request.json) {
    nlohmann::json out = report::to_json(fit);
    out["remarks"] = sheet.remarks();
    return print(report::dump(out));
  }
  std::string text =
      report::to_text(fit, request.details ? report::Details::shown : report::Details::left_out);
  text += factor_words(fit, options);
  std::vector<std::string> const remarks = sheet.remarks();
  if (!remarks.empty()) text += "\nThe sheet\n";
  for (std::string const& remark : remarks) text += report::list_item(remark);
  print(text + what_to_do(request, entries));
}

void add_tools(CLI::App& command, FitCommandOptions& request) {
  command.add_option("--width-error", request.width_error_mm, "± of a width, mm (0.05)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option("--place-error", request.place_error_mm, "± of a place, mm (1)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option("--jaw", request.jaw_mm, "Length of the calipers' jaw, mm (4)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
}

}  // namespace

void add_calibrate_fit(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<FitCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "fit",
      "Compute the lag from a filled-in sheet, with an honest ±.\n"
      "Example: meltlag calibrate fit TEST.gcode SHEET.csv --profile auger.toml\n"
      "         --output measured.toml");
  command->add_option("TEST", request->file, "The G-code that was printed")->required();
  command->add_option("SHEET", request->sheet, "What was measured (CSV; - reads stdin)")
      ->required();
  command->add_option("--profile", request->profile, "The machine's profile: [feed] and [machine]")
      ->required();
  command->add_option("--output", request->output, "Write the profile with the fitted values here");
  command->add_option("--report", request->report, report_help);
  command->add_flag("--force", request->force, "Replace a file that is there");
  command->add_flag("--rows-hold",
                    request->rows_hold,
                    "Each value stands in its own row, whatever it looks like");
  command->add_flag("--details", request->details, "Every reading, layer heights, correlations");
  command->add_flag("--json", request->json, "Print the result as JSON");
  command->add_option("--layer-height", request->layer_height_mm, "mm (taken from the lines)")
      ->type_name("MM");
  add_tools(*command, *request);
  command->add_option("--e-per-turn", request->e_mm_per_turn, "E for one turn, mm (the profile's)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command->add_option("--density", request->density_g_cm3, "g/cm³, for masses (the material's)")
      ->check(CLI::PositiveNumber)
      ->type_name("G_CM3");
  command->callback([request, &status] {
    run_fit(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
