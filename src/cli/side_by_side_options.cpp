// SPDX-License-Identifier: MIT
#include "side_by_side_options.hpp"

namespace meltlag::cli {

void add_options(CLI::App& command, SideBySideCommandOptions& request) {
  command.add_flag("--side-by-side",
                   request.asked,
                   "Print the part twice: left with its flow set right, right adapted");
  command.add_option("--gap", request.gap_mm, "Between the two parts, mm (5)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option("--bed-x", request.bed_x_mm, "Width of the bed, mm: both must fit")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command.add_option(
      "--tick-sheet", request.tick_sheet, "Write what to look for here (OUT.ticks.csv)");
}

void settle(SideBySideCommandOptions& request, std::string const& output, Overwrite overwrite) {
  if (!request.asked) {
    if (!request.tick_sheet.empty() || request.bed_x_mm > 0)
      throw CLI::ValidationError("adapt", "--tick-sheet and --bed-x go with --side-by-side");
    return;
  }
  if (request.bed_x_mm <= 0)
    throw CLI::ValidationError("adapt",
                               "--side-by-side needs --bed-x MM, the width of the bed, so that "
                               "nothing is printed beside it");
  if (request.tick_sheet.empty()) {
    if (output == "-")
      throw CLI::ValidationError("adapt", "--side-by-side to standard output needs --tick-sheet");
    request.tick_sheet = output + ".ticks.csv";
  }
  refuse_to_overwrite(request.tick_sheet, overwrite);
}

std::optional<adapt::SideBySideJob> put_side_by_side(SideBySideCommandOptions const& request,
                                                     std::string& file,
                                                     profile::Profile const& profile,
                                                     std::optional<OutputFile>& spool) {
  if (!request.asked) return {};
  Notices notices;  // those of the job are reported
  adapt::SideBySideJob job =
      adapt::side_by_side(file,
                          {.slicer_diameter_mm = profile.feed.slicer_diameter_mm,
                           .g91_covers_e = profile.machine.g91_covers_e,
                           .delivered_factor = profile.feed.delivered_factor,
                           .gap_mm = request.gap_mm,
                           .bed_x_mm = request.bed_x_mm},
                          notices);
  spool.emplace("-");
  spool->write(job.text);
  spool->flush();
  file = spool->temporary_path();
  return job;
}

}  // namespace meltlag::cli
