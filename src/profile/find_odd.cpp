// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>
#include <utility>

#include "meltlag/base/text.hpp"
#include "review_parts.hpp"

namespace meltlag::profile {
namespace {

// Outside these, a value is more often a slip of the pen than a fact.
constexpr double shortest_usual_lag_s = 0.02, longest_usual_lag_s = 5;
constexpr double least_usual_index = 0.15, greatest_usual_index = 1.1;
constexpr double least_usual_factor = 0.6, greatest_usual_factor = 1.3;
constexpr double index_difference = 0.3;
constexpr double much_explained = 1.15, little_explained = 0.5;

void odd_lag(Profile const& profile, Review& review) {
  auto const say = [&](std::string text) { review.odd.push_back(std::move(text)); };
  if (!review.law) return;
  double const lag = melt::lag_s(*review.law, review.law->at_flow_mm3_s);
  if (lag < shortest_usual_lag_s)
    say(
        fmt::format("A lag of {} s is so short that there is hardly anything to correct. Is "
                    "run_on_mm3 in mm³?",
                    in_figures(lag)));
  if (lag > longest_usual_lag_s)
    say(fmt::format(
        "A lag of {} s is very long. Is run_on_mm3 in mm³, and did the screw really stop?",
        in_figures(lag)));
  double const index = review.law->flow_index;
  if (index < least_usual_index || index > greatest_usual_index)
    say(fmt::format("A flow index of {} is unusual: plastic melts have 0.2 to 1.", index));
  if (!profile.measured_lag || !profile.material.flow_index) return;
  if (std::abs(index - *profile.material.flow_index) > index_difference)
    say(
        fmt::format("The measured flow index {} is far from the material's {}: measure the run-on "
                    "at two more flows.",
                    index,
                    *profile.material.flow_index));
}

void odd_parts(Profile const& profile, Review& review) {
  if (!review.parts || !profile.measured_lag) return;
  double const share = review.parts->law.run_on_mm3 / profile.measured_lag->run_on_mm3;
  if (share > much_explained)
    review.odd.push_back(fmt::format(
        "The parts explain {:.0f} % of the measured run-on, more than there is: a part is stiffer "
        "than given, or the melt thinner.",
        100 * share));
  if (share < little_explained)
    review.odd.push_back(fmt::format(
        "The parts explain only {:.0f} % of the measured run-on: something gives way that is not "
        "in the list, or air is trapped.",
        100 * share));
}

// Dates as they sort, 2026-05-17; of others nothing is said.
bool is_date(std::string const& text) {
  constexpr std::string_view pattern = "dddd-dd-dd";
  if (text.size() < pattern.size()) return false;
  for (std::size_t i = 0; i < pattern.size(); ++i)
    if (pattern[i] == 'd' ? !is_digit(text[i]) : text[i] != pattern[i]) return false;
  return true;
}

void odd_dates(Profile const& profile, Review& review) {
  auto const before = [&](std::string const& date, std::string const& what) {
    if (!is_date(profile.date) || !is_date(date) || !(date.substr(0, 10) < profile.date)) return;
    review.odd.push_back(
        fmt::format("{} on {}, before this build was made on {}: it belongs to another build, or a "
                    "date is wrong.",
                    what,
                    date,
                    profile.date));
  };
  if (profile.measured_lag) before(profile.lag_origin.measured_on, "The lag was measured");
  for (MeasuredPrint const& print : profile.measured) before(print.date, "A print was measured");
}

void odd_geometry(Profile const& profile, Review& review) {
  if (!profile.barrel) return;
  auto const& sections = profile.barrel->sections;
  if (profile.barrel->screw_diameter_mm) {
    double const gap = sections.back().bore_mm - *profile.barrel->screw_diameter_mm;
    if (gap > 1.0 && sections.back().screw_core_mm > 0)
      review.odd.push_back(
          fmt::format("The screw is {} mm thinner than its bore: melt will leak back past it.",
                      in_figures(gap)));
  }
  if (profile.nozzle && profile.nozzle->diameter_mm >= sections.back().bore_mm)
    review.odd.push_back("The nozzle's hole is as wide as the bore. Are both in mm?");
}

void odd_machine(Profile const& profile, Review& review) {
  auto const say = [&](std::string text) { review.odd.push_back(std::move(text)); };
  double const factor = profile.feed.delivered_factor;
  if (factor < least_usual_factor || factor > greatest_usual_factor)
    say(
        fmt::format("A delivered factor of {} is unusual: are the steps for one mm of E set right "
                    "in the printer?",
                    factor));
  double const e_speed = profile.limits.max_speed_mm_s[motion::axis_e];
  double const fastest = e_speed * profile.feed.area_mm2() * factor;
  if (profile.bounds.max_flow_mm3_s && fastest < *profile.bounds.max_flow_mm3_s)
    say(fmt::format(
        "The E axis stops at {} mm/s, which delivers {} mm³/s, less than max_flow_mm3_s.",
        e_speed,
        in_figures(fastest)));
  auto const& lines = profile.machine.max_lines_per_s;
  if (lines && 1000 / profile.machine.shortest_cut_ms > *lines)
    say(
        fmt::format("Cuts of {} ms would make {:.0f} lines a second, more than max_lines_per_s: "
                    "cuts will be longer.",
                    profile.machine.shortest_cut_ms,
                    1000 / profile.machine.shortest_cut_ms));
  if (profile.bounds.cold_below_c < 100)
    say(fmt::format("cold_below_c is {} °C: hardly any plastic flows there.",
                    profile.bounds.cold_below_c));
}

// Feeding for long, the store and the burst, as they stand to each other.
void odd_supply(Profile const& profile, Review& review) {
  auto const say = [&](std::string text) { review.odd.push_back(std::move(text)); };
  Bounds const& bounds = profile.bounds;
  bool const stores = bounds.burst_mm3.value_or(0) > 0;
  if (stores && !bounds.max_flow_mm3_s)
    say("burst_mm3 says what stands ready above max_flow_mm3_s, which is not given: without it the "
        "store means nothing.");
  if (stores && deviation(profile, "limits.burst_mm3") && sure_burst_mm3(profile) == 0)
    say("burst_mm3 is less than twice its deviation: a schedule will not rely on it. Measure it "
        "with more bursts in a cup.");
  if (bounds.max_flow_mm3_s && bounds.max_burst_mm3_s &&
      *bounds.max_burst_mm3_s < *bounds.max_flow_mm3_s)
    say(
        fmt::format("max_burst_mm3_s is {}, less than the {} mm³/s that the screw feeds for long: "
                    "are the two swapped?",
                    in_figures(*bounds.max_burst_mm3_s),
                    in_figures(*bounds.max_flow_mm3_s)));
}

void odd_residence(Profile const& profile, Review& review) {
  if (!review.melt_volume_mm3 || !profile.material.longest_residence_s) return;
  double const flow = *review.melt_volume_mm3 / *profile.material.longest_residence_s;
  double const usual =
      review.law ? review.law->at_flow_mm3_s : profile.bounds.max_flow_mm3_s.value_or(5);
  if (flow > usual)
    review.odd.push_back(fmt::format(
        "Below {} mm³/s the melt stays longer than longest_residence_s.", in_figures(flow)));
}

// Carried over by the activation energy where that is known, and not farther than it is good for.
std::string other_temperature(Profile const& profile, std::optional<double> print_c) {
  constexpr double same_c = 5, far_c = 20;
  std::optional<double> const at_c = profile.measured_lag->at_c;
  if (!print_c || !at_c) return {};
  double const off_c = std::abs(*print_c - *at_c);
  std::string const both = fmt::format("The lag was measured at {} °C, the file prints at {} °C",
                                       in_figures(*at_c),
                                       in_figures(*print_c));
  if (!profile.material.activation_kj_mol && off_c > same_c)
    return both +
           ", and without activation_kj_mol under [material] it is not carried over: measure "
           "again.";
  if (off_c > far_c)
    return both + ", which is far to carry it over by the activation energy: measure again.";
  return {};
}

}  // namespace

// A lag holds for what it was measured with.
std::vector<std::string> lag_doubts(Profile const& profile, std::optional<double> print_c) {
  std::vector<std::string> doubts;
  if (!profile.measured_lag) {
    if (!profile.lag_left_behind.empty()) doubts.push_back(profile.lag_left_behind);
    doubts.emplace_back(
        "The lag is only computed from the parts, not measured: it may be off by half. `meltlag "
        "calibrate print` writes a test piece that measures it.");
    return doubts;
  }
  LagOrigin const& origin = profile.lag_origin;
  bool const other_plastic = !origin.measured_with.empty() && !profile.material.name.empty() &&
                             !same_ignoring_case(origin.measured_with, profile.material.name);
  if (other_plastic)
    doubts.push_back(
        fmt::format("The lag was measured with {}, the material is {}: measure "
                    "again with what you print.",
                    origin.measured_with,
                    profile.material.name));
  if (origin.nozzle_mm && profile.nozzle &&
      std::abs(*origin.nozzle_mm - profile.nozzle->diameter_mm) > 0.01)
    doubts.push_back(
        fmt::format("The lag was measured with a nozzle of {} mm, there is one of {} mm now: "
                    "measure again.",
                    in_figures(*origin.nozzle_mm),
                    in_figures(profile.nozzle->diameter_mm)));
  if (std::string text = other_temperature(profile, print_c); !text.empty())
    doubts.push_back(std::move(text));
  return doubts;
}

void find_missing(Profile const& profile, Review& review) {
  auto const say = [&](std::string text) { review.missing.push_back(std::move(text)); };
  auto const parts = missing_parts(profile);
  if (review.source == Source::none)
    say(fmt::format("There is no lag yet: neither [lag] nor all the parts ({} missing).",
                    fmt::join(parts, ", ")));
  else if (!parts.empty())
    say(fmt::format("Where the lag comes from cannot be said without {}.", fmt::join(parts, ", ")));
  if (!profile.lag_left_behind.empty()) say(profile.lag_left_behind);
  if (review.source == Source::parts)
    say("The lag is computed, not measured: `meltlag calibrate print` writes a test piece that "
        "measures it.");
  if (profile.measured_lag && !deviation(profile, "lag.run_on_mm3"))
    say("How sure the lag is: run_on_mm3_sd and flow_index_sd under [lag].");
  if (!profile.bounds.max_flow_mm3_s)
    say("The most that the screw feeds for long: max_flow_mm3_s under [limits]; `meltlag calibrate "
        "feed` finds it.");
  else if (!profile.bounds.burst_mm3)
    say("How much melt stands ready for a burst above max_flow_mm3_s: burst_mm3 under [limits]; "
        "`meltlag calibrate feed --limits` measures it. Until then none is relied on.");
  if (profile.feed.delivered_factor == 1.0 && !deviation(profile, "feed.delivered_factor"))
    say("How much of the asked-for plastic arrives: weigh what 300 mm of E deliver and type "
        "delivered_factor under [feed].");
  if (review.melt_volume_mm3 && !profile.material.longest_residence_s)
    say("How long the melt may stay hot: longest_residence_s under [material]; no published figure "
        "is "
        "known to Meltlag.");
}

void find_odd(Profile const& profile, Review& review) {
  odd_lag(profile, review);
  if (profile.measured_lag)
    for (std::string& doubt : lag_doubts(profile, std::nullopt))
      review.odd.push_back(std::move(doubt));
  odd_dates(profile, review);
  odd_parts(profile, review);
  odd_geometry(profile, review);
  odd_machine(profile, review);
  odd_supply(profile, review);
  odd_residence(profile, review);
}

}  // namespace meltlag::profile
