// SPDX-License-Identifier: MIT
#include "adapt_command.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "adapt_options.hpp"
#include "adapt_summary.hpp"
#include "emitting.hpp"
#include "judging.hpp"
#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/output_file.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/report/figures.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "pacing.hpp"
#include "profile_command.hpp"
#include "spread.hpp"
#include "time_table.hpp"

namespace meltlag::cli {
namespace {

// By so much of the whole a file whose layers keep their times may get longer.
constexpr double layer_rounding = 0.01;

struct AdaptWords {
  std::string file, profile, output;
  PaceWords pace;
  bool robust = false, time_table = false, keep_layer_time = false;
  bool in_place = false, force = false, json = false, quiet = false;
};

std::string target_of(AdaptWords const& words) {
  if (words.in_place == !words.output.empty()) {
    throw CLI::ValidationError("adapt", "needs either --output OUT or --in-place");
  }
  if (words.in_place) {
    if (!adapt::is_replaceable(words.file)) {
      throw Error(
          "cannot be replaced: it is no regular file", {.file = words.file}, "Use --output OUT.");
    }
    return words.file;
  }
  if (adapt::same_file(words.file, words.output)) {
    throw Error("is both input and output",
                {.file = words.output},
                "To replace the file itself, use --in-place.");
  }
  if (adapt::is_replaceable(words.output) && adapt::exists(words.output) && !words.force) {
    throw Error("already exists; not overwritten",
                {.file = words.output},
                "Name another file, or add --force.");
  }
  return words.output;
}

// Standard input can be read only once, so it is put into a temporary file.
void spool_stdin(adapt::OutputFile& spool) {
  std::array<char, 1 << 16> buffer;
  while (std::size_t const n = std::fread(buffer.data(), 1, buffer.size(), stdin)) {
    spool.write({buffer.data(), n});
  }
  spool.flush();
}

void show_time_table(AdaptWords const& words,
                     adapt::AdaptOptions const& options,
                     adapt::FigureOptions const& figures) {
  report::TradeTable const table = time_table(words.file, options, figures);
  print(words.json ? report::dump(report::to_json(table)) : report::to_text(table));
}

void run_adapt(AdaptWords words) {
  std::string const target = words.time_table ? std::string() : target_of(words);
  std::optional<adapt::OutputFile> spool;
  if (words.file == "-") {
    spool_stdin(spool.emplace("-"));
    words.file = spool->temporary_path();
  }
  profile::Profile const profile = profile::load(words.profile, load_options());
  adapt::AdaptOptions options = adapt_options(profile);
  if (words.keep_layer_time) options.layer_time = adapt::LayerTime::kept;
  if (words.robust) options.spread = required_spread(profile);
  adapt::FigureOptions figures = figure_options(profile);
  figures.prove = adapt::Prove::invariants;
  if (words.time_table) return show_time_table(words, options, figures);
  auto const pace = choose_pace(words.pace, words.file, options);
  if (pace) {
    options.price_mm3_per_s = pace->price_mm3_per_s;
    figures.extra_time = pace->allowed_share;
  }
  if (words.keep_layer_time) figures.extra_time = std::max(figures.extra_time, layer_rounding);
  if (pace || words.keep_layer_time) figures.speeds = adapt::Speeds::lowered;
  adapt::OutputFile output(target);
  Notices notices;
  ShowProgress const progress =
      stderr_is_terminal() && !words.quiet ? ShowProgress::yes : ShowProgress::no;
  Emitted result = emit_with_care(words.file, options, figures, output, notices, progress);
  bool const worse = result.judgement.after.misplaced_mm3 >= result.judgement.before.misplaced_mm3;
  if (worse && result.judgement.violation_count == 0 && !result.judgement.parting) {
    // Where nothing is gained, every line stays as it was.
    options.leave_everything = true;
    output.restart();
    Notices again;
    result = emit_once(words.file, options, figures, output, again, progress);
    result.info.left_as_it_was = true;
  }
  refuse_violations(words.file, result.judgement);
  std::optional<SpreadFigures> over;
  if (schedule::LagSpread const known = lag_spread(profile);
      known.known() && (words.json || !words.quiet))
    over = judge_over(known, words.file, output.temporary_path(), figures);
  if (pace && !words.quiet) std::fputs(to_text(*pace).c_str(), stderr);
  output.commit();
  AdaptSummary const summary{profile, result, notices, pace, over};
  if (words.json) {
    nlohmann::json out = to_json(summary);
    out["file"] = words.file;
    print(report::dump(out));
  }
  if (!words.quiet) std::fputs(to_text(summary).c_str(), stderr);
}

}  // namespace

void add_adapt_command(CLI::App& app, int& status) {
  auto const words = std::make_shared<AdaptWords>();
  CLI::App* const command = app.add_subcommand(
      "adapt",
      "Rewrite a sliced file so that it suits the extruder's lag.\n"
      "Example: meltlag adapt part.gcode --profile auger.toml --output adapted.gcode\n"
      "A slicer calls it with the file last: adapt --profile auger.toml --in-place FILE");
  command->add_option("FILE", words->file, "The sliced G-code file; - is standard input")
      ->required();
  command->add_option("--profile", words->profile, "The machine's profile (TOML)")->required();
  command->add_option(
      "--output", words->output, "Write the adapted file here; - is standard output");
  command->add_flag(
      "--in-place", words->in_place, "Replace FILE itself, once the check has passed");
  command->add_option("--extra-time",
                      words->pace.extra_time,
                      "Print time that may be added, in percent, such as 15%; default 0%");
  command->add_option("--target",
                      words->pace.target,
                      "Add the least time that brings misplaced plastic to this, such as 4%");
  command->add_flag("--keep-layer-time",
                    words->keep_layer_time,
                    "Let no layer take less time than before, for cooling");
  command->add_flag(
      "--time-table", words->time_table, "Show what more print time buys; writes no file");
  command->add_flag(
      "--robust", words->robust, "Suit the lag on average over what the profile's _sd keys allow");
  command->add_flag("--force", words->force, "Overwrite an OUT that exists");
  command->add_flag("--json", words->json, "Print the figures as JSON on standard output");
  command->add_flag("--quiet", words->quiet, "No summary on standard error");
  command->callback([words, &status] {
    run_adapt(*words);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
