// SPDX-License-Identifier: MIT
#include "calibrate_recheck.hpp"

#include <fmt/format.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "calibrate_path.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/fit/recheck.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "output.hpp"
#include "profile_command.hpp"

namespace meltlag::cli {
namespace {

using fit::MovedTo;
using fit::Recheck;
using fit::RecheckLevel;

struct RecheckCommandOptions {
  std::string file, sheet, profile;
  double width_error_mm = 0.05, place_error_mm = 1;
  bool json = false;
};

double known_sd(profile::Profile const& profile, char const* key) {
  auto const found = profile.sd.find(key);
  return found == profile.sd.end() ? 0 : found->second;
}

fit::RecheckOptions recheck_options(RecheckCommandOptions const& request,
                                    profile::Profile const& profile,
                                    double layer_height_mm) {
  if (!profile.measured_lag)
    throw Error("there is no measured lag to check",
                {.file = request.profile},
                "measure it first: meltlag calibrate fit --help");
  fit::RecheckOptions options{
      .law = *profile.measured_lag,
      .feed = profile.feed,
      .leak_per_s = profile.leak_per_s,
      .run_on_sd_mm3 = known_sd(profile, "lag.run_on_mm3"),
      .flow_index_sd = known_sd(profile, "lag.flow_index"),
      .correlation = profile.lag_origin.run_on_flow_index_correlation,
      .factor_sd = known_sd(profile, "feed.delivered_factor"),
      .predictor = {.layer_height_mm = layer_height_mm,
                    .density_g_cm3 = profile.material.density_g_cm3.value_or(0)}};
  options.predictor.errors.width_mm = request.width_error_mm;
  options.predictor.errors.place_mm = request.place_error_mm;
  return options;
}

std::string moved_words(MovedTo const& moved) {
  return fmt::format("{} {} → {}",
                     name_of(moved.parameter),
                     report::number(moved.from, 3),
                     report::plus_minus(moved.to, moved.sd));
}

// Yes, no or cannot tell, and what moved.
std::string in_words(Recheck const& check) {
  switch (check.level) {
    case RecheckLevel::holds:
      return fmt::format(
          "Yes: the lag still holds. A run-on changed by {:.0f} % would have shown.\n",
          100 * check.visible_run_on_share);
    case RecheckLevel::cannot_tell:
      return fmt::format(
          "Cannot tell: nothing speaks against the lag, but only a run-on changed by {:.0f} % "
          "would "
          "have\nshown. Measure more of the rows.\n",
          100 * check.visible_run_on_share);
    case RecheckLevel::several:
      return "No: the lag no longer holds, and no one parameter explains the readings. Measure it "
             "again in full.\n";
    case RecheckLevel::moved:
      break;
  }
  std::string text =
      "No: the lag no longer holds. What explains it: " + moved_words(check.moved.front()) + ".\n";
  constexpr double as_good = 4;  // of χ²: two deviations
  for (std::size_t i = 1; i < check.moved.size(); ++i)
    if (check.moved[i].p >= 0.05 &&
        check.moved[i].chi_squared < check.moved.front().chi_squared + as_good)
      text += report::list_item("It may as well be: " + moved_words(check.moved[i]) + ".");
  return text + report::list_item("Measure it again in full before printing much with it.");
}

nlohmann::json to_json(Recheck const& check) {
  constexpr char const* levels[] = {"holds", "moved", "several moved", "cannot tell"};
  nlohmann::json out{{"level", levels[static_cast<std::size_t>(check.level)]},
                     {"readings", check.readings},
                     {"chi_squared", check.chi_squared},
                     {"p", check.p},
                     {"visible_run_on_share", check.visible_run_on_share},
                     {"moved", nlohmann::json::array()}};
  for (MovedTo const& moved : check.moved)
    out["moved"].push_back({{"parameter", std::string{name_of(moved.parameter)}},
                            {"from", moved.from},
                            {"to", moved.to},
                            {"sd", moved.sd},
                            {"p", moved.p}});
  return out;
}

void run_recheck(RecheckCommandOptions const& request) {
  profile::Profile const profile = profile::load(request.profile, load_options());
  reading::PrintedPath const path = printed_path(request.file, profile);
  Sheet const sheet = Sheet::read(request.sheet);
  auto const readings = reading::read_readings(sheet, path);
  auto const height = reading::layer_height_mm(path, readings);
  if (!height)
    throw Error("no row has a value that can be used",
                {.file = request.sheet},
                "measure five places, the first rows first, and fill in the column value");
  Recheck const check = fit::recheck(path, readings, recheck_options(request, profile, *height));
  if (request.json) return print(report::dump(to_json(check)));
  print(in_words(check) +
        fmt::format(
            "{} readings, χ² {:.1f}: {}\n",
            check.readings,
            check.chi_squared,
            check.p < 1e-4
                ? "no chance that the profile's lag makes them"
                : fmt::format("{:.2g} of such sets would be farther off by chance", check.p)));
}

}  // namespace

void add_calibrate_recheck(CLI::App& calibrate, int& status) {
  auto const request = std::make_shared<RecheckCommandOptions>();
  CLI::App* const command = calibrate.add_subcommand(
      "recheck",
      "Say whether the profile's lag still holds, by five readings.\n"
      "Yes, no, or what moved: after a new batch or nozzle. The short piece:\n"
      "  meltlag calibrate print TEST.gcode SHEET.csv --layers 4 ...\n"
      "Example: meltlag calibrate recheck TEST.gcode SHEET.csv\n"
      "         --profile measured.toml");
  command->add_option("TEST", request->file, "The G-code that was printed")->required();
  command->add_option("SHEET", request->sheet, "What was measured (CSV; - reads stdin)")
      ->required();
  command->add_option("--profile", request->profile, "The profile with the lag to check")
      ->required();
  command->add_option("--width-error", request->width_error_mm, "± of a width, mm (0.05)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command->add_option("--place-error", request->place_error_mm, "± of a place, mm (1)")
      ->check(CLI::PositiveNumber)
      ->type_name("MM");
  command->add_flag("--json", request->json, "Print the result as JSON");
  command->callback([request, &status] {
    run_recheck(*request);
    status = exit_done;
  });
}

}  // namespace meltlag::cli
