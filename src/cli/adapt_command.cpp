// SPDX-License-Identifier: MIT
#include "adapt_command.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "judging.hpp"
#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/output_file.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/report/figures.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "profile_command.hpp"

namespace meltlag::cli {
namespace {

// What --keep-original puts behind the file's name.
constexpr char kept_suffix[] = ".as-sliced";

struct AdaptWords {
  std::string file, profile, output;
  bool in_place = false, force = false, keep_original = false, json = false, quiet = false;
};

void check_usage(AdaptWords const& words) {
  if (words.in_place == !words.output.empty()) {
    throw CLI::ValidationError("adapt", "needs either --output OUT or --in-place");
  }
  if (words.keep_original && !words.in_place) {
    throw CLI::ValidationError("--keep-original", "goes with --in-place; else FILE stays anyway");
  }
  if (words.json && words.output == "-") {
    throw CLI::ValidationError("--json", "cannot share standard output with the adapted file");
  }
}

std::string target_of(AdaptWords const& words) {
  check_usage(words);
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

// The greatest run-on that pressure and thrust limits allow, where the parts say what pressure it
// makes.
std::optional<double> most_run_on(profile::Profile const& profile) {
  auto const parts = profile::parts_lag(profile);
  if (!parts || parts->compliance_mm3_mpa <= 0) return {};
  std::optional<double> most;
  auto const limit = [&](double pressure_mpa) {
    double const run_on = parts->compliance_mm3_mpa * pressure_mpa;
    most = most ? std::min(*most, run_on) : run_on;
  };
  if (profile.bounds.max_pressure_mpa) limit(*profile.bounds.max_pressure_mpa);
  if (profile.bounds.max_thrust_n) limit(*profile.bounds.max_thrust_n / parts->area.bore_mm2);
  return most;
}

// A title may hold anything; in a comment line it must stay one line.
std::string one_line(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < ' '; }, ' ');
  return text;
}

adapt::AdaptOptions adapt_options(profile::Profile const& profile) {
  return {.plant = profile::plant(profile),
          .limits = profile.limits,
          .g91_covers_e = profile.machine.g91_covers_e,
          .shortest_cut_ms = profile.machine.shortest_cut_ms,
          .buffer_moves = profile.machine.buffer_moves,
          .max_lines_per_s = profile.machine.max_lines_per_s,
          .max_flow_mm3_s = profile.bounds.max_flow_mm3_s,
          .most_run_on_mm3 = most_run_on(profile),
          .cold_below_c = profile.bounds.cold_below_c,
          .caution = 0,
          .window_cuts = adapt::AdaptOptions{}.window_cuts,
          .leave_everything = false,
          .marker = "; adapted by meltlag " MELTLAG_VERSION " for " + one_line(profile.title)};
}

void show_progress(double share) {
  std::fprintf(stderr, "\r%3.0f %% adapted", 100 * share);
  std::fflush(stderr);
}

struct Result {
  adapt::AdaptInfo info;
  adapt::Judgement judgement;
};

Result write_and_judge(AdaptWords const& words,
                       adapt::AdaptOptions const& options,
                       adapt::FigureOptions const& figures,
                       adapt::OutputFile& output,
                       Notices& notices) {
  bool const progress = stderr_is_terminal() && !words.quiet;
  Result result;
  auto const sink = [&](std::string_view text) { output.write(text); };
  result.info = adapt::adapt(
      words.file, options, sink, notices, progress ? show_progress : adapt::Progress{});
  output.flush();
  if (progress) std::fputs("\r              \r", stderr);
  Notices again;  // the same file, the same notices
  result.judgement = adapt::judge(words.file, output.temporary_path(), figures, again, nullptr);
  return result;
}

// A corner that the printer takes a little faster than planned can break a limit; then everything
// is scheduled again, further away from the limits.
Result adapt_with_care(AdaptWords const& words,
                       adapt::AdaptOptions& options,
                       adapt::FigureOptions const& figures,
                       adapt::OutputFile& output,
                       Notices& notices) {
  Result result = write_and_judge(words, options, figures, output, notices);
  for (double const caution : {0.03, 0.1}) {
    if (result.judgement.violation_count == 0 || result.judgement.parting) break;
    options.caution = caution;
    output.restart();
    Notices again;  // the same as before
    result = write_and_judge(words, options, figures, output, again);
  }
  return result;
}

void refuse_violations(AdaptWords const& words, adapt::Judgement const& judgement) {
  if (judgement.parting) {
    throw Error("the adapted file would leave the path: " + judgement.parting->text,
                {.file = words.file},
                "Nothing was written. Please report this file to the makers of Meltlag.");
  }
  if (judgement.violation_count == 0) return;
  throw Error("the adapted file did not pass its check: " + judgement.violations.front(),
              {.file = words.file},
              "Nothing was written. Please report this file to the makers of Meltlag.");
}

// For which share of the time the screw is at a limit: what the hardware cannot follow.
std::string limits_reached(adapt::LimitTimes const& times) {
  if (times.scheduled_s <= 0) return {};
  auto const share = [&](double seconds) { return report::percent(seconds / times.scheduled_s); };
  return "at limits, of the time       feed " + share(times.flow_forward_s) + ", backward " +
         share(times.reverse_s) + ", E jump " + share(times.jump_s) + "\n";
}

std::string summary(profile::Profile const& profile, Result const& result) {
  adapt::Figure const& before = result.judgement.before;
  adapt::Figure const& after = result.judgement.after;
  report::FigureTable const table{
      .as_sliced = before, .adapted = after, .parts = profile::parts_lag(profile)};
  std::string text;
  if (before.wanted_mm3 <= 0) {
    text += "The file extrudes nothing while the head moves: only the comment line was added.\n";
  } else if (result.info.left_as_it_was) {
    text += "Nothing to gain: only the comment line was added.\n";
  }
  text += report::to_text(table);
  text += limits_reached(result.info.limits);
  double const factor = profile.feed.delivered_factor;
  if (factor != 1) {
    text += "The delivered factor of " + report::number(factor, 3) + " adds " +
            report::number(100 * (1 / factor - 1), 1) +
            " % to every E; leave it out of the slicer.\n";
  }
  if (!profile.bounds.max_flow_mm3_s) {
    text += "Forward flow kept to " + report::number(result.info.max_flow_mm3_s, 1) +
            " mm³/s, 1.2 × what the file asks for, as max_flow_mm3_s is not in the profile.\n";
  }
  text += "The speed knob stays at 100 %: any other speed needs another adapted file.\n";
  return text;
}

// Out before the file is replaced: where this fails, nothing was written.
void print_json(AdaptWords const& words,
                profile::Profile const& profile,
                Result const& result,
                Notices const& notices) {
  if (!words.json) return;
  report::FigureTable const table{.as_sliced = result.judgement.before,
                                  .adapted = result.judgement.after,
                                  .parts = profile::parts_lag(profile)};
  nlohmann::json out = report::to_json(table);
  out["file"] = words.file;
  out["absorbed_moves"] = result.info.absorbed;
  out["max_flow_mm3_s"] = result.info.max_flow_mm3_s;
  out["limits_reached_s"] = {{"scheduled", result.info.limits.scheduled_s},
                             {"feeding_forward", result.info.limits.flow_forward_s},
                             {"backward", result.info.limits.reverse_s},
                             {"e_jump", result.info.limits.jump_s}};
  out["left_as_it_was"] = result.info.left_as_it_was;
  out["notices"] = report::to_json(notices.list());
  print(report::dump(out));
  flush_stdout();
}

void tell_summary(AdaptWords const& words,
                  profile::Profile const& profile,
                  Result const& result,
                  Notices const& notices) {
  if (words.quiet) return;
  auto const list = notices.list();
  std::string text = summary(profile, result);
  if (words.keep_original)
    text += "The file as sliced is kept as " + words.file + kept_suffix + "\n";
  if (!list.empty()) text += "Noted, and not modelled where it says so:\n" + report::to_text(list);
  std::fputs(text.c_str(), stderr);
}

// Standard input can be read only once, so it is put into a temporary file.
void spool_stdin(adapt::OutputFile& spool) {
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
void refuse_changed(AdaptWords const& words, std::optional<system::FileIdentity> const& as_it_was) {
  if (system::identity_of(words.file) == as_it_was) return;
  throw Error("was changed by another program while it was being adapted",
              {.file = words.file},
              "Nothing was written. Adapt it again when nothing else writes to it.");
}

// A whole copy, flushed, that waits to be put in place.
void copy_original(std::string const& path, adapt::OutputFile& copy) {
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

void run_adapt(AdaptWords words) {
  std::string const target = target_of(words);
  std::optional<adapt::OutputFile> spool;
  if (words.file == "-") {
    spool_stdin(spool.emplace("-"));
    words.file = spool->temporary_path();
  }
  auto const as_it_was = system::identity_of(words.file);
  profile::Profile const profile = profile::load(words.profile, load_options());
  adapt::AdaptOptions options = adapt_options(profile);
  adapt::FigureOptions figures = figure_options(profile);
  figures.prove = adapt::Prove::invariants;
  adapt::OutputFile output(target);
  Notices notices;
  Result result = adapt_with_care(words, options, figures, output, notices);
  bool const worse = result.judgement.after.misplaced_mm3 >= result.judgement.before.misplaced_mm3;
  if (worse && result.judgement.violation_count == 0 && !result.judgement.parting) {
    // Where nothing is gained, every line stays as it was.
    options.leave_everything = true;
    output.restart();
    Notices again;
    result = write_and_judge(words, options, figures, output, again);
    result.info.left_as_it_was = true;
  }
  if (!figures.max_flow_mm3_s) figures.max_flow_mm3_s = result.info.max_flow_mm3_s;
  refuse_violations(words, result.judgement);
  std::optional<adapt::OutputFile> kept;
  if (words.keep_original) copy_original(words.file, kept.emplace(words.file + kept_suffix));
  print_json(words, profile, result, notices);
  refuse_changed(words, as_it_was);
  if (kept) kept->commit();
  output.commit();
  tell_summary(words, profile, result, notices);
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
  command->add_flag("--keep-original",
                    words->keep_original,
                    "With --in-place: keep a copy as FILE.as-sliced, in place of an older one");
  command->add_flag("--force", words->force, "Overwrite an OUT that exists");
  command->add_flag("--json", words->json, "Print the figures as JSON on standard output");
  command->add_flag("--quiet", words->quiet, "No summary on standard error");
  command->callback([words, &status] {
    run_adapt(*words);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
