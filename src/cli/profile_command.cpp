// SPDX-License-Identifier: MIT
#include "profile_command.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <set>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/profile/interview.hpp"
#include "meltlag/profile/reference.hpp"
#include "meltlag/profile/review.hpp"
#include "meltlag/profile/settings_report.hpp"
#include "meltlag/profile/share.hpp"
#include "meltlag/profile/starter.hpp"
#include "output.hpp"
#include "output_files.hpp"

namespace meltlag::cli {
namespace {

namespace fs = std::filesystem;

struct NewOptions {
  std::string path, settings;
  bool ask = false, force = false;
};

struct CheckOptions {
  std::string path;
  bool json = false;
};

// Says what to do where the report cannot be read.
std::string read_report(std::string const& path) {
  return read_text_file(
      path,
      "save what the printer answers when asked for its settings (M503 on most) to this file");
}

std::vector<std::string> known_materials() {
  std::set<std::string> names;
  std::error_code ignored;
  fs::path const directory = system::path_of(load_options().share_dir) / "materials";
  for (fs::directory_entry const& entry : fs::directory_iterator(directory, ignored))
    if (entry.path().extension() == ".toml") names.insert(entry.path().stem().string());
  return {names.begin(), names.end()};
}

// The talk goes to stderr: stdout keeps the result.
void tell(std::string const& text) { std::fputs(text.c_str(), stderr); }

// False at the end of the input.
bool ask(profile::Question const& question, profile::Interview& interview) {
  if (question.kind == profile::AnswerKind::material && interview.materials().empty()) return true;
  tell(std::string{question.sketch});
  while (true) {
    tell(fmt::format("{}: ", question.prompt));
    std::string answer;
    if (!std::getline(std::cin, answer)) return false;
    std::string const problem = interview.take(question, answer);
    if (problem.empty()) return true;
    tell(fmt::format("  {}.\n", problem));
  }
}

profile::Interview hold_interview() {
  profile::Interview interview(known_materials());
  tell("Answer what you know; Enter means \"don't know\".\n");
  for (profile::Question const& question : profile::Interview::questions())
    if (!ask(question, interview)) break;
  tell("\n");
  return interview;
}

// What keeps the new profile from loading as yet; empty where nothing does.
std::string still_needed(std::string const& text, std::string const& path) {
  try {
    (void)profile::parse(text, path, load_options());
    return {};
  } catch (Error const& error) {
    return error.what();
  }
}

void make_profile(NewOptions const& options) {
  Overwrite const overwrite = options.force ? Overwrite::allowed : Overwrite::refused;
  refuse_to_overwrite(options.path, overwrite);
  profile::StarterValues values;
  if (!options.settings.empty())
    values = profile::machine_values(
        profile::read_settings_report(read_report(options.settings), options.settings));
  std::vector<std::string> understood;
  for (auto const& [key, value] : values) understood.push_back(fmt::format("{} = {}", key, value));
  if (options.ask) {
    profile::Interview const interview = hold_interview();
    values.merge(interview.values());
    for (std::string const& words : interview.understood()) understood.push_back(words);
  }
  std::string const text = profile::starter(values);
  write_new_file(options.path, text, overwrite);

  std::string report = fmt::format("Wrote {}.\n", options.path);
  if (!understood.empty()) report += "Understood:\n";
  for (std::string const& words : understood) report += fmt::format("  {}\n", words);
  if (std::string const needed = still_needed(text, options.path); !needed.empty())
    report += fmt::format("Fill in first:\n  {}\n", needed);
  print(report + fmt::format("Next: meltlag profile check {}\n", options.path));
}

nlohmann::ordered_json lags_json(profile::Review const& review) {
  auto lags = nlohmann::ordered_json::array();
  for (profile::LagAtFlow const& lag : review.lags) {
    nlohmann::ordered_json entry{{"flow_mm3_s", lag.flow_mm3_s}, {"lag_s", lag.lag_s}};
    if (lag.lag_sd_s) entry["lag_sd_s"] = *lag.lag_sd_s;
    lags.push_back(entry);
  }
  return lags;
}

nlohmann::ordered_json parts_json(melt::PartsLag const& parts) {
  auto shares = nlohmann::ordered_json::array();
  for (melt::Share const& share : parts.shares) {
    using enum melt::ShareKind;
    std::string const name = share.kind == melt ? "melt" : share.kind == air ? "air" : share.name;
    shares.push_back({{"name", name}, {"run_on_mm3", share.run_on_mm3}});
  }
  return {{"run_on_mm3", parts.law.run_on_mm3},
          {"at_flow_mm3_s", parts.law.at_flow_mm3_s},
          {"least_run_on_mm3", parts.least_run_on_mm3},
          {"pressure_mpa", parts.pressure_mpa},
          {"thrust_n", parts.thrust_n},
          {"shares", shares}};
}

std::string review_json(profile::Profile const& profile, profile::Review const& review) {
  using profile::Source;
  nlohmann::ordered_json out{{"title", profile.title}, {"path", profile.path}};
  out["lag_from"] = review.source == Source::measured ? "measured"
                    : review.source == Source::parts  ? "parts"
                                                      : "none";
  if (review.law)
    out["lag"] = {{"run_on_mm3", review.law->run_on_mm3},
                  {"at_flow_mm3_s", review.law->at_flow_mm3_s},
                  {"flow_index", review.law->flow_index},
                  {"at_flows", lags_json(review)}};
  if (review.melt_volume_mm3) out["melt_volume_mm3"] = *review.melt_volume_mm3;
  if (review.parts) out["parts"] = parts_json(*review.parts);
  out["describes"] = review.describes;
  out["missing"] = review.missing;
  out["odd"] = review.odd;
  out["next"] = review.next;
  return out.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

std::string listed(char const* heading, std::vector<std::string> const& sentences) {
  if (sentences.empty()) return {};
  std::string text = fmt::format("\n{}\n", heading);
  for (std::string const& sentence : sentences) text += fmt::format("  - {}\n", sentence);
  return text;
}

void check_profile(CheckOptions const& options) {
  profile::Profile const profile = profile::load(options.path, load_options());
  profile::Review const review = profile::review(profile);
  if (options.json) {
    print(review_json(profile, review));
    return;
  }
  std::string text = fmt::format("{} ({})\n", profile.title, profile.path);
  if (!profile.notes.empty()) text += profile.notes + "\n";
  text += listed("What it describes", review.describes);
  text += listed("What is missing", review.missing);
  text += listed("What looks odd", review.odd);
  print(text + fmt::format("\nNext\n  {}\n", review.next));
}

void add_new(CLI::App& command, int& status) {
  auto const options = std::make_shared<NewOptions>();
  CLI::App* made = command.add_subcommand("new",
                                          "Write a commented profile to begin with.\nExample: "
                                          "meltlag profile new auger.toml --settings printer.txt");
  made->add_option("PROFILE", options->path, "File to write")->required();
  made->add_option("--settings",
                   options->settings,
                   "Take machine limits from what the printer reports of itself")
      ->type_name("FILE");
  made->add_flag("--ask", options->ask, "Ask a few questions; Enter means \"don't know\"");
  made->add_flag("--force", options->force, "Replace a file that is there");
  made->callback([options, &status] {
    make_profile(*options);
    status = exit_done;
  });
}

void add_check(CLI::App& command, int& status) {
  auto const options = std::make_shared<CheckOptions>();
  CLI::App* check =
      command.add_subcommand("check",
                             "Say what a profile describes, what is missing and what to do "
                             "next.\nExample: meltlag profile check auger.toml");
  check->add_option("PROFILE", options->path, "File to check")->required();
  check->add_flag("--json", options->json, "Print the same for programs");
  check->callback([options, &status] {
    check_profile(*options);
    status = exit_done;
  });
}

void add_keys(CLI::App& command, int& status) {
  auto const markdown = std::make_shared<bool>(false);
  CLI::App* keys = command.add_subcommand("keys",
                                          "Say what every key of a profile means, with its "
                                          "unit.\nExample: meltlag profile keys");
  keys->add_flag("--markdown", *markdown, "As the page profiles/README.md");
  keys->callback([markdown, &status] {
    print(*markdown ? profile::keys_markdown() : profile::keys_text());
    status = exit_done;
  });
}

}  // namespace

profile::LoadOptions load_options() {
  return {.share_dir = profile::find_share_dir(system::program_path())};
}

void add_profile_command(CLI::App& app, int& status) {
  CLI::App* command = app.add_subcommand(
      "profile",
      "Begin or check the profile of a machine.\nExample: meltlag profile new auger.toml --ask");
  command->require_subcommand(1);
  add_new(*command, status);
  add_check(*command, status);
  add_keys(*command, status);
}

}  // namespace meltlag::cli
