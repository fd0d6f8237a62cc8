// SPDX-License-Identifier: MIT
#include "calibrate_stiffness.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/fit/linear_fit.hpp"
#include "meltlag/profile/edit.hpp"
#include "meltlag/profile/load_test.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "output_files.hpp"
#include "profile_command.hpp"
#include "profile_edits.hpp"

namespace meltlag::cli {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

struct StiffnessCommandOptions {
  std::string profile, name, load_test, output;
  std::optional<double> deflection_mm, deflection_sd_mm, at_flow_mm3_s;
  bool force = false, json = false;
};

void check_usage(StiffnessCommandOptions const& request) {
  bool const gauge = !request.name.empty() || request.deflection_mm || request.at_flow_mm3_s;
  if (gauge == !request.load_test.empty())
    throw CLI::ValidationError(
        "give either --name, --deflection-mm and --at-flow (dial gauge), or --load-test");
  if (gauge && (request.name.empty() || !request.deflection_mm || !request.at_flow_mm3_s))
    throw CLI::ValidationError("--name, --deflection-mm and --at-flow belong together");
}

// What goes into the profile, and what is said of it.
struct Change {
  std::string text;   // of the whole changed profile
  std::string lines;  // what changed in it
  std::string told;
  json found;
};

// "1580", "0.0143": so many significant digits, never with an exponent.
std::string significant(double value, int digits) {
  double const size = value != 0 ? std::floor(std::log10(std::abs(value))) : 0;
  int const decimals = digits - 1 - static_cast<int>(size);
  double const step = std::pow(10.0, decimals);
  return report::fixed(std::round(value * step) / step, std::max(0, decimals));
}

bool has_load_test(profile::Profile const& profile) {
  return profile.mechanics.size() == 1 && profile.mechanics.front().name == "load test";
}

// Parts of a base profile are not inherited beside parts of one's own.
void check_parts_kept(profile::Profile const& before, profile::Profile const& after) {
  bool const kept = std::ranges::all_of(before.mechanics, [&](melt::Part const& part) {
    return std::ranges::count(after.mechanics, part.name, &melt::Part::name) > 0;
  });
  if (kept) return;
  throw Error("the parts of this profile come from its base, and one of its own would hide them",
              {.file = before.path},
              "add the part to the base profile");
}

melt::Share const* share_of(std::optional<melt::PartsLag> const& lag, std::string const& name) {
  if (!lag) return nullptr;
  for (melt::Share const& share : lag->shares)
    if (share.kind == melt::ShareKind::part && share.name == name) return &share;
  return nullptr;
}

// How much of the lag it is, where the rest of the machine is known.
void tell_share(profile::Profile const& profile, std::string const& name, Change& change) {
  auto const lag = profile::parts_lag(profile);
  melt::Share const* const share = share_of(lag, name);
  if (!share) {
    std::string missing;
    for (std::string const& key : profile::missing_parts(profile))
      missing += (missing.empty() ? "" : ", ") + key;
    if (!missing.empty())
      change.told += report::list_item("How much lag it causes is known once the profile has " +
                                       missing + ".");
    return;
  }
  change.found["n_per_mm"] = share->stiffness_n_per_mm;
  change.found["run_on_mm3"] = share->run_on_mm3;
  change.told += report::list_item(
      fmt::format("Its stiffness is {} N/mm; at {:g} mm³/s it stores {} mm³ of {} mm³ that all "
                  "parts explain.",
                  significant(share->stiffness_n_per_mm, 3),
                  lag->law.at_flow_mm3_s,
                  significant(share->run_on_mm3, 2),
                  significant(lag->law.run_on_mm3, 2)));
}

Change gauge_change(StiffnessCommandOptions const& request, profile::Profile const& profile) {
  if (has_load_test(profile))
    throw Error("this profile has a load test, which holds what all parts give way",
                {.file = request.profile},
                "take load_test out of [mechanics] to list parts instead");
  std::vector<profile::Field> fields{
      {"name", profile::toml_quoted(request.name)},
      {"deflection_mm", profile::toml_number(*request.deflection_mm)}};
  if (request.deflection_sd_mm)
    fields.push_back({"deflection_mm_sd", profile::toml_number(*request.deflection_sd_mm)});
  fields.push_back({"at_flow_mm3_s", profile::toml_number(*request.at_flow_mm3_s)});
  Change change;
  change.text = profile::with_entry(
      read_text_file(request.profile, "name an existing profile"), "mechanics", "parts", fields);
  change.lines = "  [mechanics] parts: { ";
  for (profile::Field const& field : fields)
    change.lines +=
        fmt::format("{}{} = {}", &field == &fields.front() ? "" : ", ", field.key, field.value);
  change.lines += " }\n";
  profile::Profile const after = profile::parse(change.text, request.profile, load_options());
  check_parts_kept(profile, after);
  change.told = fmt::format("{} gives way by {:g} mm at {:g} mm³/s\n",
                            request.name,
                            *request.deflection_mm,
                            *request.at_flow_mm3_s);
  change.found = {{"name", request.name},
                  {"deflection_mm", *request.deflection_mm},
                  {"at_flow_mm3_s", *request.at_flow_mm3_s}};
  tell_share(after, request.name, change);
  return change;
}

// "1520 ± 60 N/mm": 95 % of chances.
std::string stiffness(double n_per_mm, double sd, int freedom) {
  if (freedom < 1) return fmt::format("{} N/mm", significant(n_per_mm, 3));
  return fmt::format(
      "{} ± {} N/mm", significant(n_per_mm, 3), significant(fit::t_of_95_percent(freedom) * sd, 2));
}

json stiffness_json(double n_per_mm, double sd, int freedom) {
  return {{"n_per_mm", n_per_mm}, {"n_per_mm_sd", freedom < 1 ? json() : json(sd)}};
}

void tell_hysteresis(profile::LoadTest const& test, Change& change) {
  if (!test.hysteresis) {
    change.told += report::list_item(
        "Only loading was read: take the weights off again one by one to see the hysteresis.");
    return;
  }
  profile::Hysteresis const& loop = *test.hysteresis;
  change.told += fmt::format("  hysteresis  {} mm, as a force {} N",
                             significant(loop.deflection_mm, 2),
                             significant(loop.force_n, 2));
  if (loop.energy_share)
    change.told += fmt::format("; {:.0f} % of the work is lost", 100 * *loop.energy_share);
  change.told += "\n";
  change.found["hysteresis"] = {
      {"deflection_mm", loop.deflection_mm},
      {"force_n", loop.force_n},
      {"energy_share", loop.energy_share ? json(*loop.energy_share) : json()}};
  double const known =
      test.freedom > 0 ? fit::t_of_95_percent(test.freedom) * loop.deflection_mm_sd : 0;
  if (std::abs(loop.deflection_mm) <= known)
    change.told += report::list_item("That is no more than the readings scatter.");
  else if (loop.deflection_mm < 0)
    change.told +=
        report::list_item("It gave way less on the way back: did the gauge or its zero move?");
  else
    change.told += report::list_item(
        "On reversal the screw first takes up that force as friction, without moving melt.");
}

void tell_load_test(profile::LoadTest const& test, Change& change) {
  change.told = fmt::format(
      "{} readings: {}\n", test.readings, stiffness(test.n_per_mm, test.n_per_mm_sd, test.freedom));
  change.found = stiffness_json(test.n_per_mm, test.n_per_mm_sd, test.freedom);
  change.found["readings"] = test.readings;
  auto const tell = [&](char const* name, std::optional<profile::LoadBranch> const& branch) {
    if (!branch) return;
    change.told += fmt::format("  {:<10}  {}, {} readings\n",
                               name,
                               stiffness(branch->n_per_mm, branch->n_per_mm_sd, branch->freedom),
                               branch->readings);
    change.found[name] = stiffness_json(branch->n_per_mm, branch->n_per_mm_sd, branch->freedom);
  };
  tell("loading", test.loading);
  tell("unloading", test.unloading);
  tell_hysteresis(test, change);
}

Change load_test_change(StiffnessCommandOptions const& request, profile::Profile const& profile) {
  if (!profile.mechanics.empty() && !has_load_test(profile))
    throw Error("this profile lists parts, and a load test would count them again",
                {.file = request.profile},
                "take parts out of [mechanics] first");
  std::string const table = read_text_file(request.load_test, "name the table of loads");
  Change change;
  tell_load_test(profile::read_load_test(table, request.load_test), change);
  fs::path const beside =
      fs::absolute(request.output.empty() || request.output == "-" ? request.profile
                                                                   : request.output)
          .parent_path();
  std::string const path = fs::absolute(request.load_test).lexically_proximate(beside).string();
  std::vector<ProfileEdit> const edits{{"mechanics", "load_test", profile::toml_quoted(path)}};
  change.text = profile::with_value(read_text_file(request.profile, "name an existing profile"),
                                    edits[0].section,
                                    edits[0].key,
                                    edits[0].value);
  change.lines = listed(edits);
  return change;
}

void run_stiffness(StiffnessCommandOptions const& request) {
  Overwrite const overwrite = request.force ? Overwrite::allowed : Overwrite::refused;
  if (!request.output.empty()) refuse_to_overwrite(request.output, overwrite);
  profile::Profile const profile = profile::load(request.profile, load_options());
  Change change = request.load_test.empty() ? gauge_change(request, profile)
                                            : load_test_change(request, profile);
  if (request.output.empty()) {
    change.told += "With --output NEW.toml the profile would get\n" + change.lines;
  } else {
    write_profile_text(change.text, request.output, change.lines, overwrite);
    change.told += fmt::format("Wrote {} with\n{}", request.output, change.lines);
  }
  if (request.json) return print(report::dump(change.found));
  if (request.output != "-") print(change.told);
}

void refuse_name_of_version_0_1(CLI::App& calibrate) {
  CLI::App* const old =
      calibrate.add_subcommand("give", "Called stiffness since version 0.2")->group("");
  old->allow_extras();
  old->set_help_flag();
  old->callback([] {
    throw CLI::ValidationError(
        "'calibrate give' is called 'calibrate stiffness' since version 0.2, "
        "--give-mm is --deflection-mm");
  });
}

}  // namespace

void add_calibrate_stiffness(CLI::App& calibrate, int& status) {
  refuse_name_of_version_0_1(calibrate);
  auto const request = std::make_shared<StiffnessCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "stiffness",
      "Put into the profile what gives way under the screw's thrust.\n"
      "A dial gauge read while printing, or a table of weights and deflections.\n"
      "Example: meltlag calibrate stiffness --profile auger.toml --name bracket \\\n"
      "           --deflection-mm 0.03 --at-flow 5 --output measured.toml\n"
      "     or: meltlag calibrate stiffness --profile auger.toml \\\n"
      "           --load-test loads.csv --output measured.toml");
  auto const option = [&](char const* flag, auto& value, char const* about, char const* type) {
    return command->add_option(flag, value, about)->type_name(type);
  };
  option("--profile", request->profile, "The machine's profile", "FILE")->required();
  option("--name", request->name, "Of the part; one of that name is replaced", "NAME");
  for (CLI::Option* const number :
       {option("--deflection-mm",
               request->deflection_mm,
               "How far it gives way at that flow, mm",
               "MM"),
        option("--deflection-sd-mm",
               request->deflection_sd_mm,
               "Standard deviation of that, mm",
               "MM"),
        option("--at-flow", request->at_flow_mm3_s, "The steady flow while reading, mm³/s", "Q")})
    number->check(CLI::PositiveNumber.description(""));
  option("--load-test",
         request->load_test,
         "CSV with force_n or force_kg, and deflection_mm; up and down again",
         "FILE");
  option("--output", request->output, "The new profile; without it nothing is written", "FILE");
  command->add_flag("--force", request->force, "Replace a file that is there");
  command->add_flag("--json", request->json, "Print what was found as JSON");
  command->callback([request, &status] {
    check_usage(*request);
    run_stiffness(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
