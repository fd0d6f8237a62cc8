// SPDX-License-Identifier: MIT
#include "calibrate_hardware.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "bar_options.hpp"
#include "calibrate_hardware_scan.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/fit/hardware.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/report/hardware.hpp"
#include "meltlag/report/metrics.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"

namespace meltlag::cli {
namespace {

using fit::HardwareReading;
using fit::HardwareSheet;
using fit::HardwareSpread;

struct HardwareCommandOptions {
  std::vector<std::string> sheets, against;
  std::vector<std::string> pictures;  // of prints of the one file in `sheets`
  double bar_x_mm = 150, bar_y_mm = 150;
  std::string profile, output, date, notes;
  std::optional<double> layer_height_mm;
  bool force = false, json = false;
};

// Two sheets of one print would count it twice.
void refuse_twice(std::vector<std::string> paths) {
  namespace fs = std::filesystem;
  for (std::string& path : paths)
    if (path != "-") path = fs::weakly_canonical(path).string();
  std::ranges::sort(paths);
  auto const twice = std::ranges::adjacent_find(paths);
  if (twice != paths.end())
    throw Error("the same print is given twice", {.file = *twice}, "give each print once");
}

bool by_pictures(HardwareCommandOptions const& request) { return !request.pictures.empty(); }

std::vector<HardwareSheet> read_prints(std::vector<std::string> const& paths,
                                       HardwareCommandOptions const& request,
                                       profile::Profile const& profile) {
  HardwareScanRequest scan{.file = request.sheets.front(),
                           .bar_x_mm = request.bar_x_mm,
                           .bar_y_mm = request.bar_y_mm,
                           .layer_height_mm = request.layer_height_mm};
  if (profile.nozzle && profile.nozzle->diameter_mm > 0)
    scan.nozzle_mm = profile.nozzle->diameter_mm;
  std::vector<HardwareSheet> sheets;
  for (std::string const& path : paths)
    sheets.push_back(by_pictures(request)
                         ? scan_hardware_print(scan, path)
                         : fit::read_hardware_sheet(Sheet::read(path), request.layer_height_mm));
  return sheets;
}

void require_same_file(std::vector<HardwareSheet> const& sheets, HardwareSheet const& first) {
  for (HardwareSheet const& sheet : sheets)
    if (!fit::same_file(first, sheet))
      throw Error(
          "its flows or its retract are not those of " + first.name + ": another file was printed",
          {.file = sheet.name},
          "compare prints of the same G-code, measured at the same flows");
}

std::vector<report::HardwarePrint> prints_of(std::vector<HardwareSheet> const& sheets) {
  std::vector<report::HardwarePrint> prints;
  for (HardwareSheet const& sheet : sheets) prints.push_back({sheet.name, fit::spread_of(sheet)});
  return prints;
}

std::vector<double> means_of(std::vector<report::HardwarePrint> const& prints,
                             fit::Spread HardwareSpread::*quantity) {
  std::vector<double> means;
  for (report::HardwarePrint const& print : prints)
    if ((print.spread.*quantity).count > 0) means.push_back((print.spread.*quantity).mean);
  return means;
}

report::HardwareAgainst hold_against(std::vector<HardwareSheet> const& old_sheets,
                                     std::vector<HardwareSheet> const& new_sheets) {
  report::HardwareAgainst against{.prints = prints_of(old_sheets), .stops = {}, .builds = {}};
  std::vector<report::HardwarePrint> const prints = prints_of(new_sheets);
  auto const builds = [&](fit::Spread HardwareSpread::*quantity) {
    return compare::compare_builds(means_of(against.prints, quantity), means_of(prints, quantity));
  };
  against.builds = {builds(&HardwareSpread::blob_mm3), builds(&HardwareSpread::gap_mm)};
  if (old_sheets.size() > 1 || new_sheets.size() > 1) return against;
  auto const stops = [&](fit::Quantity quantity) {
    return compare::compare_builds(fit::without_flow(old_sheets.front(), quantity),
                                   fit::without_flow(new_sheets.front(), quantity));
  };
  against.stops = {stops(&HardwareReading::blob_mm3), stops(&HardwareReading::gap_mm)};
  return against;
}

// One block of [[measured]] for each print. A mean below zero is no blob at all.
std::string measured_blocks(HardwareCommandOptions const& request,
                            std::vector<report::HardwarePrint> const& prints) {
  std::string out;
  for (report::HardwarePrint const& print : prints) {
    fit::Spread const &blob = print.spread.blob_mm3, &gap = print.spread.gap_mm;
    std::string const notes =
        request.notes.empty()
            ? fmt::format("{}: {} blobs, {} gaps as sliced", print.name, blob.count, gap.count)
            : request.notes;
    out += fmt::format("\n[[measured]]\ndate = {}\nnotes = {}\n",
                       profile::toml_quoted(request.date.empty() ? today() : request.date),
                       profile::toml_quoted(notes));
    if (blob.count > 0)
      out += fmt::format("blob_mm3 = {}\n", profile::toml_number(std::max(blob.mean, 0.0), 4));
    if (gap.count > 0) out += fmt::format("gap_mm = {}\n", profile::toml_number(gap.mean, 4));
  }
  return out;
}

// The profile's text with the blocks after it, in its own line breaks.
std::string with_blocks(std::string text, std::string const& blocks) {
  bool const crlf = text.find("\r\n") != std::string::npos;
  std::string_view const line_break = crlf ? "\r\n" : "\n";
  if (!text.empty() && text.back() != '\n') text += line_break;
  for (char const c : blocks) {
    if (c == '\n')
      text += line_break;
    else
      text += c;
  }
  return text;
}

void run_hardware(HardwareCommandOptions const& request) {
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  if (!request.output.empty()) refuse_to_overwrite(request.output, overwrite);
  profile::Profile const profile = profile::load(request.profile, load_options());
  if (by_pictures(request) && request.sheets.size() != 1)
    throw CLI::ValidationError(
        "--scan", "give one G-code file, then --scan with a picture of each of its prints");
  std::vector<std::string> const& new_paths =
      by_pictures(request) ? request.pictures : request.sheets;
  std::vector<std::string> paths = new_paths;
  paths.insert(paths.end(), request.against.begin(), request.against.end());
  refuse_twice(paths);
  std::vector<HardwareSheet> const sheets = read_prints(new_paths, request, profile);
  std::vector<HardwareSheet> const old_sheets = read_prints(request.against, request, profile);
  require_same_file(sheets, sheets.front());
  require_same_file(old_sheets, sheets.front());

  report::HardwarePage page{.prints = prints_of(sheets), .against = {}, .remarks = {}};
  if (!old_sheets.empty()) page.against = hold_against(old_sheets, sheets);
  for (auto const* const all : {&old_sheets, &sheets})
    for (HardwareSheet const& sheet : *all)
      page.remarks.insert(page.remarks.end(), sheet.remarks.begin(), sheet.remarks.end());

  std::string const blocks = measured_blocks(request, page.prints);
  if (!request.output.empty())
    write_profile_text(
        with_blocks(read_text_file(request.profile, "name an existing profile"), blocks),
        request.output,
        blocks,
        overwrite);
  if (request.output == "-") return;
  if (request.json) return print(report::dump(report::to_json(page)));
  print(report::to_text(page) +
        (request.output.empty() ? "\nNo file was written. With --output NEW.toml the profile gets\n"
                                : fmt::format("\nWrote {}, the profile with\n", request.output)) +
        blocks);
}

void add_options(CLI::App& command, HardwareCommandOptions& request) {
  command
      .add_option(
          "SHEET", request.sheets, "What was measured, one sheet a print; with --scan the G-code")
      ->required();
  command.add_option("--profile", request.profile, "The profile of the build that was measured")
      ->required()
      ->type_name("FILE");
  command.add_option("--against", request.against, "Sheets or pictures of the old build's prints")
      ->type_name("FILE");
  CLI::Option* const scan =
      command
          .add_option("--scan", request.pictures, "Pictures, one of each print, to read instead")
          ->type_name("PICTURE");
  add_bar_options(command, request.bar_x_mm, request.bar_y_mm, scan);
  command.add_option("--output", request.output, "The new profile; without it nothing is written")
      ->type_name("FILE");
  command.add_option("--date", request.date, "When it was measured (today)")->type_name("DATE");
  command.add_option("--notes", request.notes, "Worth remembering of these prints")
      ->type_name("WORDS");
  command
      .add_option("--layer-height", request.layer_height_mm, "mm (the sheet's notes', the file's)")
      ->check(CLI::PositiveNumber.description(""))
      ->type_name("MM");
  command.add_flag("--force", request.force, "Replace a file that is there");
  command.add_flag("--json", request.json, "Print the result as JSON");
}

}  // namespace

void add_calibrate_hardware(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<HardwareCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "hardware",
      "Blobs and gaps of printed hardware pieces: mean, scatter, old against new.\n"
      "The piece comes from: meltlag calibrate print --hardware\n"
      "Example: meltlag calibrate hardware new1.csv new2.csv\n"
      "         --against old1.csv old2.csv --profile auger.toml\n"
      "By pictures: meltlag calibrate hardware HW.gcode --scan new1.png new2.png\n"
      "         --against old1.png old2.png --profile auger.toml");
  add_options(*command, *request);
  command->callback([request, &status] {
    run_hardware(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
