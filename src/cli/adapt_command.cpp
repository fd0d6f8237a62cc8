// SPDX-License-Identifier: MIT
#include "adapt_command.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "adapt_options.hpp"
#include "adapt_summary.hpp"
#include "kept_original.hpp"
#include "meltlag/adapt/adapt_file.hpp"
#include "meltlag/adapt/time_table.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/output_file.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "meltlag/report/tick_sheet.hpp"
#include "meltlag/report/trade.hpp"
#include "output.hpp"
#include "pacing.hpp"
#include "profile_command.hpp"
#include "progress.hpp"
#include "report_file.hpp"
#include "side_by_side_options.hpp"
#include "terminal.hpp"

namespace meltlag::cli {
namespace {

struct AdaptCommandOptions {
  std::string file, profile, output, report;
  PaceCommandOptions pace;
  bool robust = false, time_table = false, keep_layer_time = false, fastest = false;
  bool in_place = false, force = false, keep_original = false, json = false, quiet = false;
  bool restore = false;
  std::string kept;  // the original that is adapted in the place of FILE, which was adapted before
  SideBySideCommandOptions side_by_side;
};

void check_usage(AdaptCommandOptions const& request) {
  if (request.profile.empty()) throw CLI::RequiredError("--profile");
  if (request.side_by_side.asked && request.in_place)
    throw CLI::ValidationError("adapt", "--side-by-side writes a new job: name it with --output");
  if (request.side_by_side.asked && request.time_table)
    throw CLI::ValidationError("adapt", "--time-table writes no file: leave --side-by-side out");
  if (request.time_table) return;
  if (request.in_place == !request.output.empty()) {
    throw CLI::ValidationError("adapt", "needs either --output OUT or --in-place");
  }
  if (request.keep_original && !request.in_place) {
    throw CLI::ValidationError("--keep-original", "goes with --in-place; else FILE stays anyway");
  }
  if (request.json && request.output == "-") {
    throw CLI::ValidationError("--json", "cannot share standard output with the adapted file");
  }
}

std::string target_of(AdaptCommandOptions const& request) {
  check_usage(request);
  if (request.time_table) return {};
  if (request.in_place) {
    if (!is_replaceable(request.file)) {
      throw Error(
          "cannot be replaced: it is no regular file", {.file = request.file}, "Use --output OUT.");
    }
    return request.file;
  }
  if (same_file(request.file, request.output)) {
    throw Error("is both input and output",
                {.file = request.output},
                "To replace the file itself, use --in-place.");
  }
  if (is_replaceable(request.output) && exists(request.output) && !request.force) {
    throw Error("already exists; not overwritten",
                {.file = request.output},
                "Name another file, or add --force.");
  }
  return request.output;
}

// Standard input can be read only once, so it is put into a temporary file.
void spool_stdin(OutputFile& spool) {
  std::array<char, 1 << 16> buffer;
  while (std::size_t const n = std::fread(buffer.data(), 1, buffer.size(), stdin)) {
    spool.write({buffer.data(), n});
  }
  if (std::ferror(stdin) != 0) {
    throw Error("cannot read: " + system::cause(),
                {.file = "standard input"},
                "Check what writes into it and try again.");
  }
  spool.flush();
}

// The file is read several times; what was made from one file must not replace another.
void refuse_changed(std::string const& file, std::optional<system::FileIdentity> const& as_it_was) {
  if (system::identity_of(file) == as_it_was) return;
  throw Error("was changed by another program while it was being adapted",
              {.file = file},
              "Nothing was written. Adapt it again when nothing else writes to it.");
}

// A whole copy, flushed, that waits to be put in place.
void copy_original(std::string const& path, OutputFile& copy) {
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> const file(system::open_for_reading(path),
                                                             &std::fclose);
  std::array<char, 1 << 16> buffer;
  while (std::size_t const n = file ? std::fread(buffer.data(), 1, buffer.size(), file.get()) : 0) {
    copy.write({buffer.data(), n});
  }
  if (!file || std::ferror(file.get()) != 0) {
    throw Error("cannot read: " + system::cause(), {.file = path}, "Check the disk and try again.");
  }
}

// What one run works with.
struct Run {
  AdaptCommandOptions request;
  std::string shown_name;  // of the file, before it was put into a temporary one
  profile::Profile profile;
  std::optional<adapt::SideBySideJob> job;
  std::optional<ReportFile> report;
};

adapt::AdaptOptions options_of(Run const& run) {
  adapt::AdaptOptions options = adapt_options(run.profile);
  if (run.request.keep_layer_time) options.layer_time = adapt::LayerTime::kept;
  if (run.request.fastest) options.stops = adapt::StopPolicy::absorbed;
  if (run.request.robust) options.spread = profile::required_lag_spread(run.profile);
  return options;
}

void show_time_table(Run& run) {
  adapt::TradeTable const table = adapt::time_table(run.request.file, options_of(run));
  if (run.report) write_report(*run.report, run.shown_name, run.profile, table);
  print(run.request.json ? report::dump(report::to_json(table)) : report::to_text(table));
}

// The path too where a page shows it, and the lag's ± where somebody reads of it.
adapt::AdaptedFile adapt_run(Run const& run,
                             OutputFile& output,
                             Notices& notices,
                             std::optional<page::PathRecord>& path) {
  AdaptCommandOptions const& request = run.request;
  adapt::AdaptFileOptions options{.adapt = options_of(run), .time = grant_of(request.pace)};
  if (request.json || !request.quiet || run.report)
    options.judged_spread = profile::lag_spread(run.profile);
  if (run.profile.nozzle) options.nozzle_mm = run.profile.nozzle->diameter_mm;
  if (run.job) options.job = &*run.job;
  if (run.report) options.new_cells = [&] { return &path.emplace(); };
  adapt::AdaptedFile result = adapt::adapt_file(request.file, options, output, notices);
  if (result.outcome == adapt::Outcome::target_out_of_reach)
    throw_out_of_reach(*result.pace, request.file);
  if (path) path->finish();
  return result;
}

// Where standard output cannot take the figures, nothing is written.
void print_json(AdaptCommandOptions const& request, AdaptSummary const& summary) {
  if (!request.json) return;
  nlohmann::json out = to_json(summary);
  out["file"] = request.file;
  print(report::dump(out));
  flush_stdout();
}

void tell_summary(AdaptCommandOptions const& request, AdaptSummary const& summary) {
  if (request.quiet) return;
  std::string text = to_text(summary);
  if (!request.kept.empty())
    text += "It was adapted before: this is made anew from " + request.kept + ", which stays\n";
  else if (request.keep_original)
    text += "The file as sliced is kept as " + request.file + kept_suffix + "\n";
  clear_progress();
  std::fputs(text.c_str(), stderr);
}

void refuse_same_names(AdaptCommandOptions const& request) {
  std::string const& sheet = request.side_by_side.tick_sheet;
  for (std::string const& other : {request.file, request.profile, request.output, request.report})
    if (!sheet.empty() && !other.empty() && same_name(sheet, other))
      throw Error("would be overwritten by the tick sheet",
                  {.file = other},
                  "Give --tick-sheet another name.");
}

// The file itself comes last: where anything fails before, it is as it was.
void put_in_place(Run& run, std::vector<OutputFile*> const& beside, OutputFile& output) {
  if (run.report) run.report->commit();
  for (OutputFile* const file : beside) file->commit();
  output.commit();
}

// Puts standard input into `spool`, and a kept original in the place of what was adapted from it.
void settle_input(AdaptCommandOptions& request, std::optional<OutputFile>& spool) {
  if (request.file == "-") {
    spool_stdin(spool.emplace("-"));
    request.file = spool->temporary_path();
  }
  if (auto kept = kept_original(request.file)) request.file = request.kept = *std::move(kept);
}

void run_adapt(AdaptCommandOptions given) {
  std::string const target = target_of(given);
  Run run{.request = std::move(given), .shown_name = {}, .profile = {}, .job = {}, .report = {}};
  AdaptCommandOptions& request = run.request;
  if (request.quiet) silence_progress();
  run.shown_name = request.file == "-" ? "standard input" : request.file;
  if (!request.report.empty())
    run.report.emplace(request.report, std::vector{request.file, request.output, request.profile});
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  settle(request.side_by_side, request.output, overwrite);
  refuse_same_names(request);
  std::optional<OutputFile> spool, job_spool;
  settle_input(request, spool);
  std::string const as_read = request.file;
  auto const as_it_was = system::identity_of(as_read);
  run.profile = profile::load(request.profile, load_options());
  run.job = put_side_by_side(request.side_by_side, request.file, run.profile, job_spool);
  if (request.time_table) return show_time_table(run);
  OutputFile output(target);
  Notices notices;
  std::optional<page::PathRecord> path;
  adapt::AdaptedFile const result = adapt_run(run, output, notices, path);
  std::optional<OutputFile> ticks, kept;
  std::vector<OutputFile*> beside;
  if (run.job)
    ticks.emplace(request.side_by_side.tick_sheet)
        .write(report::tick_sheet(result.pair->differences, *run.job));
  if (request.keep_original && request.kept.empty())
    copy_original(request.file, kept.emplace(request.file + kept_suffix));
  AdaptSummary const summary{run.profile, result, path, notices, run.job};
  if (run.report) write_report(*run.report, run.shown_name, summary);
  print_json(request, summary);
  if (kept) beside.push_back(&*kept);
  if (ticks) beside.push_back(&*ticks);
  for (OutputFile* const file : beside) file->finish();
  output.finish();
  refuse_changed(as_read, as_it_was);
  put_in_place(run, beside, output);
  tell_summary(request, summary);
}

void run_restore(AdaptCommandOptions const& request) {
  if (request.in_place || request.keep_original || !request.output.empty())
    throw CLI::ValidationError("--restore", "goes with FILE alone");
  restore_original(request.file);
  if (!request.quiet) std::fputs((request.file + " is as sliced again\n").c_str(), stderr);
}

// What is read, and where the result goes.
void add_file_options(CLI::App& command, AdaptCommandOptions& request) {
  command.add_option("FILE", request.file, "The sliced G-code file; - is standard input")
      ->required();
  command.add_option("--profile", request.profile, "The machine's profile (TOML)");
  command.add_option(
      "--output", request.output, "Write the adapted file here; - is standard output");
  command.add_flag(
      "--in-place", request.in_place, "Replace FILE itself, once the check has passed");
}

// How much the print may take, and what it is spent on.
void add_time_options(CLI::App& command, AdaptCommandOptions& request) {
  command
      .add_option("--extra-time",
                  request.pace.extra_time,
                  "Print time beyond the file as sliced, in percent, such as 15%; default 0%")
      ->type_name("PERCENT");
  command
      .add_option("--target",
                  request.pace.target,
                  "Add the least time that brings misplaced plastic to this, such as 4%")
      ->type_name("PERCENT");
  command.add_flag("--fastest",
                   request.fastest,
                   "Leave the stops of retracts out: sooner done, worse beads and more strings");
  command.add_flag("--keep-layer-time",
                   request.keep_layer_time,
                   "Let no layer take less time than before, for cooling");
  command.add_flag(
      "--time-table", request.time_table, "Show what more print time buys; writes no file");
  command.add_flag(
      "--robust",
      request.robust,
      "Least misplaced plastic on average over the uncertainty that the profile's _sd keys give");
}

// What is kept and said beside it.
void add_output_options(CLI::App& command, AdaptCommandOptions& request) {
  command.add_flag("--keep-original",
                   request.keep_original,
                   "With --in-place: keep a copy as FILE.as-sliced, in place of an older one");
  command.add_flag(
      "--restore", request.restore, "Put the kept copy back in the place of FILE, and do no more");
  command.add_option("--report", request.report, report_help);
  command.add_flag("--force", request.force, "Overwrite an OUT that exists");
  command.add_flag("--json", request.json, "Print the figures as JSON on standard output");
  command.add_flag("--quiet", request.quiet, "No summary on standard error");
}

}  // namespace

void add_adapt_command(CLI::App& app, int& status) {
  auto const request = std::make_shared<AdaptCommandOptions>();
  CLI::App* const command = app.add_subcommand(
      "adapt",
      "Rewrite a sliced file so that it suits the extruder's lag.\n"
      "Example: meltlag adapt part.gcode --profile auger.toml --output adapted.gcode\n"
      "A slicer calls it with the file last: adapt --profile auger.toml --in-place FILE");
  add_file_options(*command, *request);
  add_time_options(*command, *request);
  add_output_options(*command, *request);
  add_options(*command, request->side_by_side);
  command->callback([request, &status] {
    request->restore ? run_restore(*request) : run_adapt(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
