// SPDX-License-Identifier: MIT
#include "calibrate_feed.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "calibrate_feed_options.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/fit/feed_choices.hpp"
#include "meltlag/fit/feed_verdict.hpp"
#include "meltlag/page/feed_page.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/report/feed.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "meltlag/testpiece/feed.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"
#include "report_file.hpp"

namespace meltlag::cli {
namespace {

// Writing ------------------------------------------------------------------------------------

std::optional<double> deviation(profile::Profile const& profile, char const* key) {
  auto const found = profile.sd.find(key);
  return found == profile.sd.end() ? std::nullopt : std::optional(found->second);
}

testpiece::StoreKnowledge store_knowledge(profile::Profile const& profile) {
  return {.delivered_factor = profile.feed.delivered_factor,
          .delivered_factor_sd = deviation(profile, "feed.delivered_factor"),
          .max_flow_mm3_s = profile.bounds.max_flow_mm3_s.value_or(0),
          .max_flow_sd_mm3_s = deviation(profile, "limits.max_flow_mm3_s"),
          .max_burst_mm3_s = profile.bounds.max_burst_mm3_s};
}

testpiece::FeedOptions feed_options(FeedCommandOptions const& request,
                                    profile::Profile const& profile) {
  testpiece::FeedOptions options = request.options;
  options.slicer_diameter_mm = profile.feed.slicer_diameter_mm;
  options.limits = profile.limits;
  options.max_flow_mm3_s = profile.bounds.max_flow_mm3_s;
  options.density_g_cm3 =
      request.density_g_cm3 ? request.density_g_cm3 : profile.material.density_g_cm3;
  if (request.park_mm.size() == 3) {
    options.park_x_mm = request.park_mm[0];
    options.park_y_mm = request.park_mm[1];
    options.park_z_mm = request.park_mm[2];
  }
  if (request.beep_s) {
    options.swap = testpiece::CupSwap::dwell;
    options.swap_s = *request.beep_s;
  }
  std::optional<double> warm;
  if (options.nozzle_c > 0) warm = options.nozzle_c;
  if (!warm && profile.measured_lag) warm = profile.measured_lag->at_c;
  if (!warm) warm = profile.material.at_c;
  options.nozzle_c = warm.value_or(0);
  if (!request.start.empty()) options.start_code = read_text_file(request.start);
  if (!request.end.empty()) options.end_code = read_text_file(request.end);
  if (request.limits) options.bursts = testpiece::Bursts::rising;
  if (request.limits && request.sheet.empty()) options.cups_per_flow = 0;
  if (!request.store_sheet.empty()) options.store_cups = testpiece::StoreCups::rising;
  options.known = store_knowledge(profile);
  return options;
}

// What fewer and longer cups would cost, for whoever finds these too many.
std::string choices_text(testpiece::FeedProgram const& program,
                         testpiece::FeedOptions const& options) {
  auto const choices = fit::cup_choices(program, options, *options.density_g_cm3);
  if (choices.empty()) return {};
  report::Table const table{{{"cups at", "each flow", 9},
                             {"seconds", "each", 8},
                             {"presses", "", 8},
                             {"minutes", "", 8},
                             {"± factor", "%", 9},
                             {"shows scatter", "over, %", 14},
                             {"", "", 18, report::Align::left}}};
  std::string text = "\n" + table.header();
  for (fit::CupChoice const& choice : choices)
    table.append_row(
        text,
        {std::to_string(choice.cups_per_flow),
         fmt::format("{:g}", choice.cup_s),
         options.swap == testpiece::CupSwap::pause ? std::to_string(choice.presses) : "0",
         fmt::format("{:.0f}", choice.minutes),
         report::fixed(100 * choice.factor_plus_minus, 1),
         report::fixed(100 * choice.visible_scatter, 1),
         &choice == &choices.front()
             ? "  as written"
             : fmt::format("  --cups {} --seconds {:g}", choice.cups_per_flow, choice.cup_s)});
  return text +
         report::list_item(fmt::format(
             "Expected where cups of a minute scatter by {:g} % themselves, on a scale that "
             "resolves {:g} g (--scale-g).",
             100 * fit::cup_scatter,
             options.scale_g)) +
         "\n";
}

std::string summary(FeedCommandOptions const& request,
                    testpiece::FeedProgram const& program,
                    testpiece::FeedOptions const& options) {
  std::string text = fmt::format("Wrote {}", request.output);
  for (std::string const& sheet : {request.sheet, request.burst_sheet, request.store_sheet})
    if (!sheet.empty()) text += fmt::format(", {}", sheet);
  text += fmt::format("\n  {} cups, {} bursts", program.cups.size(), program.bursts.size());
  if (!program.store_cups.empty())
    text += fmt::format(", {} cups of {} bursts or none",
                        program.store_cups.size(),
                        program.store_cups.front().bursts);
  text += program.store_cups.empty() ? "; " : ";\n  ";
  text += fmt::format("{} and pauses for your hands; {:.1f} cm³",
                      report::duration(program.planned_s),
                      program.plastic_mm3 / 1000);
  if (options.density_g_cm3)
    text += fmt::format(", {:.0f} g", program.plastic_mm3 / 1000 * *options.density_g_cm3);
  text += " of plastic\n";
  if (options.density_g_cm3) text += choices_text(program, options);
  for (std::string const& remark : program.remarks) text += report::list_item(remark);
  text += report::list_item(
      "Read the cautions at the top of the file, stay beside the machine, have its switch at "
      "hand.");
  text += "Next: print it, weigh the cups, fill in mass_g, then\n";
  text += fmt::format("  meltlag calibrate feed --profile {} \\\n    ", request.profile);
  if (!request.sheet.empty()) text += fmt::format("--read {} ", request.sheet);
  if (!request.burst_sheet.empty()) text += fmt::format("--read-bursts {} ", request.burst_sheet);
  if (!request.store_sheet.empty()) text += fmt::format("--read-store {} ", request.store_sheet);
  text += "--output NEW.toml\n";
  return text;
}

void write_program(FeedCommandOptions const& request, profile::Profile const& profile) {
  testpiece::FeedOptions const options = feed_options(request, profile);
  for (std::string const& path :
       {request.output, request.sheet, request.burst_sheet, request.store_sheet})
    if (!path.empty()) refuse_to_overwrite(path, request.overwrite());
  testpiece::FeedProgram const program = fit::plan_feed_program(options);
  write_new_files({{request.sheet, testpiece::cup_sheet(program)},
                   {request.burst_sheet, testpiece::burst_sheet(program)},
                   {request.store_sheet, testpiece::store_sheet(program)},
                   {request.output, program.gcode}},
                  request.overwrite());
  if (request.output != "-") print(summary(request, program, options));
}

// Reading back -------------------------------------------------------------------------------

fit::FeedJudgeOptions judge_options(FeedCommandOptions const& request,
                                    profile::Profile const& profile) {
  auto const density =
      request.density_g_cm3 ? request.density_g_cm3 : profile.material.density_g_cm3;
  if (!density)
    throw Error("the plastic's density is not known",
                {.file = request.profile},
                "add density_g_cm3 to [material], or give --density");
  auto const sd = profile.sd.find("material.density_g_cm3");
  bool const known = !request.density_g_cm3 && sd != profile.sd.end();
  return {.density_g_cm3 = *density,
          .density_sd_g_cm3 = known ? sd->second : 0,
          .scale_g = request.options.scale_g,
          .bead_width_mm = request.bead_width_mm,
          .burst_mm3 = profile.bounds.burst_mm3.value_or(0),
          .burst_sd_mm3 = deviation(profile, "limits.burst_mm3").value_or(0)};
}

// What was measured, as it comes in.
struct Findings {
  std::string text = {};
  nlohmann::json json = nlohmann::json::object();
  std::vector<ProfileEdit> edits = {};
  page::FeedPage page = {};
  testpiece::StoreKnowledge known = {};  // the profile's until it is measured again

  void limit(char const* key, double value, int digits) {
    edits.push_back({"limits", key, profile::toml_number(value, digits)});
  }

  void remark(Sheet const& sheet) {
    for (std::string const& request : sheet.remarks()) {
      std::string const words = fmt::format("{}: {}.", sheet.name(), request);
      text += report::list_item(words);
      page.remarks.push_back(words);
    }
  }
};

void judge_cups(FeedCommandOptions const& request,
                profile::Profile const& profile,
                Findings& findings) {
  Sheet const sheet = Sheet::read(request.read);
  report::FeedTable table{.verdict = {}, .options = judge_options(request, profile)};
  std::vector<fit::CupReading> const cups = fit::read_cups(sheet);
  table.verdict = fit::judge_feed(cups, sheet, table.options);
  findings.page.cups = {table, cups};
  findings.text += report::to_text(table);
  findings.remark(sheet);
  if (request.details) findings.text += "\n" + report::criteria_text(table);
  findings.json["feed"] = report::to_json(table);
  findings.known.delivered_factor = table.verdict.delivered_factor;
  findings.known.delivered_factor_sd = table.verdict.delivered_factor_sd;
  findings.edits.push_back(
      {"feed", "delivered_factor", profile::toml_number(table.verdict.delivered_factor, 4)});
  findings.edits.push_back(
      {"feed", "delivered_factor_sd", profile::toml_number(table.verdict.delivered_factor_sd, 2)});
  if (!table.verdict.starvation) return;
  fit::Starvation const& starved = *table.verdict.starvation;
  findings.known.max_flow_mm3_s = starved.max_flow_mm3_s;
  findings.known.max_flow_sd_mm3_s = starved.sd;
  findings.limit("max_flow_mm3_s", starved.max_flow_mm3_s, 4);
  findings.limit("max_flow_mm3_s_sd", starved.sd, 2);
}

void judge_bursts(FeedCommandOptions const& request,
                  profile::Profile const& profile,
                  Findings& findings) {
  Sheet const sheet = Sheet::read(request.read_bursts);
  fit::ScrewLimits const limits =
      fit::screw_limits(fit::read_bursts(sheet), findings.known.delivered_factor);
  if (!findings.text.empty()) findings.text += "\n";
  findings.text += report::to_text(limits);
  findings.remark(sheet);
  findings.json["screw_limits"] = report::to_json(limits);
  findings.page.limits = limits;
  if (limits.max_burst_mm3_s) {
    findings.known.max_burst_mm3_s = limits.max_burst_mm3_s;
    findings.limit("max_burst_mm3_s", *limits.max_burst_mm3_s, 3);
  }
  if (limits.max_burst_sd_mm3_s)
    findings.limit("max_burst_mm3_s_sd", *limits.max_burst_sd_mm3_s, 2);
  if (!limits.max_e_mm_s) return;
  motion::PerAxis const& speed = profile.limits.max_speed_mm_s;
  findings.edits.push_back({"machine",
                            "max_speed_mm_s",
                            fmt::format("{{ x = {}, y = {}, z = {}, e = {} }}",
                                        profile::toml_number(speed[0]),
                                        profile::toml_number(speed[1]),
                                        profile::toml_number(speed[2]),
                                        profile::toml_number(*limits.max_e_mm_s, 3))});
}

void judge_store(FeedCommandOptions const& request,
                 profile::Profile const& profile,
                 Findings& findings) {
  if (!(findings.known.max_flow_mm3_s > 0))
    throw Error("what the screw feeds for long is not known",
                {.file = "[limits] max_flow_mm3_s"},
                "read the cups that starve first, or together with these");
  Sheet const sheet = Sheet::read(request.read_store);
  fit::FeedJudgeOptions const options = judge_options(request, profile);
  fit::StoreVerdict const verdict = fit::judge_store(fit::read_store_cups(sheet),
                                                     sheet,
                                                     {.known = findings.known,
                                                      .density_g_cm3 = options.density_g_cm3,
                                                      .density_sd_g_cm3 = options.density_sd_g_cm3,
                                                      .scale_g = options.scale_g});
  if (!findings.text.empty()) findings.text += "\n";
  findings.text += report::to_text(verdict);
  findings.remark(sheet);
  findings.json["store"] = report::to_json(verdict);
  findings.page.store = verdict;
  if (verdict.level == fit::StoreLevel::cannot_tell) return;
  findings.limit("burst_mm3", verdict.burst_mm3, 3);
  findings.limit("burst_mm3_sd", verdict.sd_mm3, 2);
}

void write_feed_page(ReportFile& report, profile::Profile const& profile, page::FeedPage page) {
  page.version = MELTLAG_VERSION;
  page.profile_title = profile.title;
  page.profile_text = profile_text(profile.path);
  page::write_page(report.out(), page);
  report.finish();
}

void read_back(FeedCommandOptions const& request, profile::Profile const& profile) {
  std::optional<ReportFile> report;
  if (!request.report.empty())
    report.emplace(request.report,
                   std::vector<std::string>{request.profile,
                                            request.read,
                                            request.read_bursts,
                                            request.read_store,
                                            request.output});
  if (!request.output.empty()) refuse_to_overwrite(request.output, request.overwrite());
  Findings findings{.known = store_knowledge(profile)};
  if (!request.read.empty()) judge_cups(request, profile, findings);
  if (!request.read_bursts.empty()) judge_bursts(request, profile, findings);
  if (!request.read_store.empty()) judge_store(request, profile, findings);
  if (report) write_feed_page(*report, profile, findings.page);
  if (!request.output.empty())
    write_profile(request.profile, request.output, findings.edits, request.overwrite());
  if (report) report->commit();
  if (request.json) return print(report::dump(findings.json));
  if (!request.read.empty())
    findings.text += "\n" + report::list_item(
                                "The delivered factor is applied by adapt: leave it out of the "
                                "slicer's flow setting.");
  if (findings.edits.empty())
    findings.text += "Nothing to keep in a profile.\n";
  else if (request.output.empty())
    findings.text +=
        fmt::format("With --output NEW.toml the profile would get\n{}", listed(findings.edits));
  else
    findings.text += fmt::format("Wrote {} with\n{}", request.output, listed(findings.edits));
  print(findings.text);
}

}  // namespace

void add_calibrate_feed(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<FeedCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "feed",
      "Run the screw into cups and weigh them: how even the feed is.\n"
      "And how much the screw feeds for long, with --limits in a burst.\n"
      "Writes G-code and a sheet; --read judges the filled-in sheet.\n"
      "Example: meltlag calibrate feed --profile auger.toml --plain-start \\\n"
      "           --nozzle-c 205 --output feed.gcode --sheet cups.csv\n"
      "   then: meltlag calibrate feed --profile auger.toml --read cups.csv \\\n"
      "           --output measured.toml");
  add_options(*command, *request);
  command->callback([request, &status] {
    check_usage(*request);
    profile::Profile const profile = profile::load(request->profile, load_options());
    request->reads() ? read_back(*request, profile) : write_program(*request, profile);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
