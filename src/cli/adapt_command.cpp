// SPDX-License-Identifier: MIT
#include "adapt_command.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

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
#include "time_table.hpp"

namespace meltlag::cli {
namespace {

struct AdaptWords {
  std::string file, profile, output;
  PaceWords pace;
  bool robust = false, time_table = false;
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

// What the profile says of how well its lag is known.
schedule::LagSpread lag_spread(profile::Profile const& profile) {
  melt::LagLaw const law = profile::lag_law(profile);
  auto const sd = [&](char const* key) {
    auto const found = profile.sd.find(key);
    return found == profile.sd.end() ? 0.0 : found->second;
  };
  schedule::LagSpread const spread{sd("lag.run_on_mm3") / law.run_on_mm3, sd("lag.flow_index"), 0};
  if (spread.known()) return spread;
  throw Error("does not say how well the lag is known",
              {.file = profile.path},
              "Add run_on_mm3_sd and flow_index_sd to [lag], or leave --robust out.");
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
          .leave_everything = false,
          .price_mm3_per_s = 0,
          .spread = {},
          .min_speed_mm_s = profile.machine.min_speed_mm_s,
          .marker = "; adapted by meltlag " MELTLAG_VERSION " for " + one_line(profile.title)};
}

// For which share of the time the screw is at a limit: what the hardware cannot follow.
std::string limits_reached(adapt::LimitTimes const& times) {
  if (times.scheduled_s <= 0) return {};
  auto const share = [&](double seconds) { return report::percent(seconds / times.scheduled_s); };
  return "at limits, of the time       feed " + share(times.flow_forward_s) + ", backward " +
         share(times.reverse_s) + ", E jump " + share(times.jump_s) + "\n";
}

std::string summary(profile::Profile const& profile, Emitted const& result) {
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

void report_result(AdaptWords const& words,
                   profile::Profile const& profile,
                   Emitted const& result,
                   Notices const& notices) {
  auto const list = notices.list();
  if (words.json) {
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
    out["notices"] = report::to_json(list);
    print(report::dump(out));
  }
  if (words.quiet) return;
  std::string text = summary(profile, result);
  if (!list.empty()) text += "Noted, and not modelled where it says so:\n" + report::to_text(list);
  std::fputs(text.c_str(), stderr);
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
  if (words.robust) options.spread = lag_spread(profile);
  adapt::FigureOptions figures = figure_options(profile);
  figures.prove = adapt::Prove::invariants;
  if (words.time_table) return show_time_table(words, options, figures);
  auto const pace = choose_pace(words.pace, words.file, options);
  if (pace) {
    options.price_mm3_per_s = pace->price_mm3_per_s;
    figures.extra_time = pace->allowed_share;
  }
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
  if (!figures.max_flow_mm3_s) figures.max_flow_mm3_s = result.info.max_flow_mm3_s;
  refuse_violations(words.file, result.judgement);
  if (pace && !words.quiet) std::fputs(to_text(*pace).c_str(), stderr);
  output.commit();
  report_result(words, profile, result, notices);
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
