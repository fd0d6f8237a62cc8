// SPDX-License-Identifier: MIT
#include "meltlag/report/print_checks.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::TimeEntry;
using compare::TimeInfluence;

constexpr double same_time_share = 0.01;

// The number that stands in the profile, X's where there is one an axis; 0 for no entry.
double value_of(TimeEntry entry, motion::Limits const& limits) {
  switch (entry) {
    case TimeEntry::acceleration:
      return limits.acceleration_mm_s2;
    case TimeEntry::axis_acceleration:
      return limits.max_acceleration_mm_s2[0];
    case TimeEntry::speed:
      return limits.max_speed_mm_s[0];
    case TimeEntry::corner:
      return limits.corner_rule == motion::CornerRule::rounding ? limits.corner_rounding_mm
                                                                : limits.corner_jump_mm_s[0];
    case TimeEntry::feed:
      break;
  }
  return 0;
}

std::string needed(TimeInfluence const& influence, motion::Limits const& limits) {
  if (!influence.times) return "none explains it";
  double const value = value_of(influence.entry, limits);
  if (value <= 0) return fmt::format("{:.0f} %", 100 * *influence.times);
  return fmt::format("{:.3g}, not {:.3g}", value * *influence.times, value);
}

// "acceleration_mm_s2 (1600, not 800: 62 %), …", as far as they are worth a look.
std::string candidates(compare::TimeCheck const& check, motion::Limits const& limits) {
  constexpr double worth_a_look = 0.02;
  std::vector<std::string> parts;
  for (TimeInfluence const& influence : check.entries)
    if (influence.likelihood >= worth_a_look)
      parts.push_back(fmt::format("{} ({}: about {:.0f} %)",
                                  compare::name_of(influence.entry, limits.corner_rule),
                                  needed(influence, limits),
                                  100 * influence.likelihood));
  return fmt::format("What may be wrong, the likeliest first: {}.", fmt::join(parts, "; "));
}

}  // namespace

Sentences findings(compare::TimeCheck const& check, motion::Limits const& limits) {
  double const off = check.took_s - check.planned_s;
  Sentences out;
  if (std::abs(off) <= same_time_share * check.planned_s) {
    out.push_back("The planned time holds to 1 %: nothing in [machine] is doubtful.");
  } else if (check.entries.front().likelihood > 0) {
    out.push_back(candidates(check, limits));
    out.push_back(
        "How likely is by how often and how far such entries are wrong, if one alone is; one "
        "clocked "
        "time cannot separate them. Was the speed knob at 100 %? Then ask the printer for its "
        "settings (M503 on most) and compare, and clock a file of shorter or longer moves.");
  } else {
    out.push_back(
        "No entry of [machine] alone explains the time, not even at a quarter or four times "
        "itself: look at heating, waits, a pause by hand, or at "
        "which file was printed.");
  }
  if (check.unknown_waits > 0)
    out.push_back(fmt::format(
        "The file waits {} for a length that nobody knows (heating, homing). Clock from the first "
        "move after it.",
        check.unknown_waits == 1 ? "once" : fmt::format("{} times", check.unknown_waits)));
  return out;
}

Sentences findings(compare::PartMass const& m) {
  Sentences out;
  if (m.purged_g > 0)
    out.push_back(fmt::format("{} g of purge within the print are taken to lie elsewhere.",
                              number(m.purged_g, 3)));
  bool const holds = std::abs(m.delivered_factor - m.profile_factor) <= 2 * m.delivered_factor_sd;
  out.emplace_back(
      holds ? "Within what scale and density leave open: the profile holds."
            : "More than scale and density leave open. Brim and skirt belong to the weight. If the "
              "hopper ran well, write the factor with --output NEW.toml; if not, repair it first.");
  return out;
}

std::string to_text(compare::PartMass const& m) {
  return fmt::format(
      "The part weighs {} g; predicted were {} g ({:+.1f} %).\n"
      "Delivered factor: {} by this part, {} in the profile.\n{}",
      number(m.mass_g, 3),
      number(m.predicted_g, 3),
      100 * (m.mass_g / m.predicted_g - 1),
      plus_minus(m.delivered_factor, m.delivered_factor_sd),
      number(m.profile_factor, 3),
      item_list(findings(m)));
}

nlohmann::json to_json(compare::PartMass const& m) {
  return {{"mass_g", m.mass_g},
          {"predicted_g", m.predicted_g},
          {"purged_g", m.purged_g},
          {"delivered_factor", m.delivered_factor},
          {"delivered_factor_sd", m.delivered_factor_sd},
          {"profile_delivered_factor", m.profile_factor}};
}

std::string to_text(compare::TimeCheck const& check, motion::Limits const& limits) {
  std::string out = fmt::format("Took {}; planned were {} ({:+.1f} %).\n\n",
                                duration(check.took_s),
                                duration(check.planned_s),
                                100 * (check.took_s / check.planned_s - 1));
  Table const table{{{"entry", "", 25, Align::left},
                     {"a tenth more", "changes, s", 12},
                     {"a quarter to four", "times itself, s", 17},
                     {"explains the time", "", 16},
                     {"likely", "%", 6}}};
  out += table.header();
  for (TimeInfluence const& influence : check.entries)
    table.append_row(out,
                     {compare::name_of(influence.entry, limits.corner_rule),
                      fmt::format("{:+.1f}", influence.change_s),
                      fmt::format("{:.0f} – {:.0f}", influence.shortest_s, influence.longest_s),
                      needed(influence, limits),
                      fmt::format("{:.0f}", 100 * influence.likelihood)});
  return out + '\n' + item_list(findings(check, limits));
}

nlohmann::json to_json(compare::TimeCheck const& check, motion::Limits const& limits) {
  nlohmann::json out = {{"took_s", check.took_s},
                        {"planned_s", check.planned_s},
                        {"unknown_waits", check.unknown_waits},
                        {"entries", nlohmann::json::array()}};
  for (TimeInfluence const& influence : check.entries) {
    nlohmann::json entry = {{"entry", compare::name_of(influence.entry, limits.corner_rule)},
                            {"tenth_more_changes_s", influence.change_s},
                            {"shortest_s", influence.shortest_s},
                            {"longest_s", influence.longest_s},
                            {"likelihood", influence.likelihood}};
    if (influence.times) entry["times"] = *influence.times;
    out["entries"].push_back(entry);
  }
  return out;
}

Sentences findings(compare::Ticks const& ticks) {
  compare::HitRate const& rate = ticks.rate;
  Sentences out;
  if (ticks.open > 0)
    out.push_back(fmt::format("{} {} left open.", ticks.open, ticks.open == 1 ? "was" : "were"));
  out.push_back(
      rate.low > 0.5
          ? fmt::format(
                "More than chance would give (probability {:.2g}): the prediction shows on this "
                "machine. Next: measure widths and compare them, for numbers.",
                ticks.by_chance)
      : rate.high < 0.5
          ? std::string("Fewer than chance would give: the profile does not describe this machine. "
                        "Calibrate the feed, then print the test piece.")
          : std::string("So few ticks cannot be told from chance: look at more places, or "
                        "measure widths and compare them."));
  return out;
}

std::string to_text(compare::Ticks const& ticks) {
  compare::HitRate const& rate = ticks.rate;
  return fmt::format(
             "{} of {} predicted differences were seen: {:.0f} % "
             "(95 %: {:.0f} to {:.0f} %).\n",
             rate.hits,
             rate.of,
             100 * rate.share,
             100 * rate.low,
             100 * rate.high) +
         item_list(findings(ticks));
}

nlohmann::json to_json(compare::Ticks const& ticks) {
  return {{"hits", ticks.rate.hits},
          {"of", ticks.rate.of},
          {"open", ticks.open},
          {"share", ticks.rate.share},
          {"low_95", ticks.rate.low},
          {"high_95", ticks.rate.high},
          {"by_chance", ticks.by_chance}};
}

}  // namespace meltlag::report
