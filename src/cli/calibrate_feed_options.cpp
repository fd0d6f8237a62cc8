// SPDX-License-Identifier: MIT
#include "calibrate_feed_options.hpp"

#include "report_file.hpp"
#include "start_options.hpp"

namespace meltlag::cli {
namespace {

void add_cup_options(CLI::App& command, FeedCommandOptions& request) {
  testpiece::FeedOptions& options = request.options;
  command
      .add_option("--flows",
                  options.flows_mm3_s,
                  "mm³/s (rising until cups starve: to twice max_flow_mm3_s, else from 2 to 23)")
      ->delimiter(',')
      ->type_name("Q,Q,..");
  command.add_option("--cups", options.cups_per_flow, "Cups at each flow (30 in all)")
      ->type_name("N");
  command.add_option("--seconds", options.cup_s, "Of the screw for each cup (60)")->type_name("S");
  command.add_option("--settle", options.settle_s, "Into the waste cup before each, s (10)")
      ->type_name("S");
  command.add_option("--drip", options.drip_s, "At rest after each run, s (10)")->type_name("S");
  command
      .add_option("--beep",
                  request.beep_s,
                  "Beep and wait so long at each swap of cups, s; without it the printer pauses "
                  "for its button (M0)")
      ->type_name("S");
  command
      .add_option(
          "--park", request.park_mm, "Where the nozzle stands over the cups, mm (10,10,100)")
      ->delimiter(',')
      ->expected(3)
      ->type_name("X,Y,Z");
  command.add_option("--seed", options.seed, "Shuffles the order of the cups (1)")->type_name("N");
}

void add_writing_options(CLI::App& command, FeedCommandOptions& request) {
  command.add_option("--sheet", request.sheet, "CSV to write for the masses")->type_name("FILE");
  add_start_options(command, request.start, request.end, request.plain_start);
  command
      .add_option(
          "--nozzle-c", request.options.nozzle_c, "Nozzle for the plain start, °C (the profile's)")
      ->type_name("C");
  add_cup_options(command, request);
  command.add_flag("--limits",
                   request.limits,
                   "Bursts at rising rates, back and forward; cups only with --sheet");
  command.add_option("--burst-sheet", request.burst_sheet, "CSV to write for the bursts")
      ->type_name("FILE");
  command
      .add_option("--burst-to",
                  request.options.burst_to_mm3_s,
                  "Flow of the last burst, mm³/s (E's greatest speed)")
      ->type_name("Q");
  command
      .add_option("--store-sheet",
                  request.store_sheet,
                  "With --limits: CSV to write for cups of many bursts, which tell the melt that "
                  "stands ready for one")
      ->type_name("FILE");
  command
      .add_option("--bursts",
                  request.options.bursts_per_cup,
                  "Bursts in each such cup (as the scale needs)")
      ->check(CLI::Range(testpiece::least_bursts, 2000).description(""))
      ->type_name("N");
}

void add_reading_options(CLI::App& command, FeedCommandOptions& request) {
  command.add_option("--read", request.read, "Judge this filled-in sheet of the cups")
      ->type_name("FILE");
  command.add_option("--read-bursts", request.read_bursts, "Judge this sheet of the bursts")
      ->type_name("FILE");
  command.add_option("--read-store", request.read_store, "Judge this sheet of the cups of bursts")
      ->type_name("FILE");
  command.add_option("--report", request.report, report_help)->type_name("FILE");
  command.add_option("--density", request.density_g_cm3, "g/cm³ (the material's)")
      ->check(CLI::Range(0.1, 25.0).description(""))
      ->type_name("G_CM3");
  command.add_option("--scale-g", request.options.scale_g, "Step of the scale, g (0.01)")
      ->check(CLI::Range(1e-6, 10.0).description(""))
      ->type_name("G");
  command.add_option("--bead-width", request.bead_width_mm, "Bead to compare with, mm (1)")
      ->check(CLI::Range(0.1, 20.0).description(""))
      ->type_name("MM");
  command.add_flag("--details", request.details, "Show the criteria too");
  command.add_flag("--json", request.json, "Print what was read as JSON");
}

}  // namespace

void add_options(CLI::App& command, FeedCommandOptions& request) {
  command.add_option("--profile", request.profile, "The machine's profile: [feed] and [machine]")
      ->required()
      ->type_name("FILE");
  command.add_option("--output", request.output, "G-code to write; with --read the new profile")
      ->type_name("FILE");
  add_writing_options(command, request);
  add_reading_options(command, request);
  command.add_flag("--force", request.force, "Replace files that are there");
}

void check_usage(FeedCommandOptions const& request) {
  auto const need = [](bool given, char const* what) {
    if (!given) throw CLI::ValidationError(what);
  };
  if (request.reads()) return;
  need(request.report.empty(), "--report needs --read: it shows what was measured");
  need(!request.output.empty(), "--output is needed: the G-code file to write (or --read a sheet)");
  need(!request.sheet.empty() || request.options.cups_per_flow == 0 || request.limits,
       "--sheet is needed: the CSV file for the masses");
  need(request.plain_start != !request.start.empty(),
       "give either --start and --end, your own code, or --plain-start");
  need(request.start.empty() == request.end.empty(), "--start and --end belong together");
  need(request.limits != request.burst_sheet.empty(), "--limits and --burst-sheet belong together");
  need(request.limits || request.store_sheet.empty(), "--store-sheet needs --limits");
}

}  // namespace meltlag::cli
