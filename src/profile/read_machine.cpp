// SPDX-License-Identifier: MIT
#include "read_machine.hpp"

#include <fmt/format.h>

#include <cmath>

#include "document.hpp"
#include "meltlag/profile/settings_report.hpp"

namespace meltlag::profile {
namespace {

constexpr std::array<char, 4> axis_letters{'x', 'y', 'z', 'e'};

SettingsReport read_report(Section const& section) {
  std::optional<std::string> const path = section.file("settings_report");
  if (!path) return {};
  require_file(*path, section.place("settings_report"), section.shown("settings_report"));
  return read_settings_report(read_text(*path, "settings report"), *path);
}

// What a key says counts before what the report says.
SomeAxes key_or_report(Section const& section, std::string_view key, SomeAxes const& report) {
  SomeAxes values = section.axes(key);
  for (std::size_t axis = 0; axis < values.size(); ++axis)
    if (!values[axis]) values[axis] = report[axis];
  return values;
}

motion::PerAxis all_axes(Section const& section, std::string_view key, SomeAxes const& values) {
  motion::PerAxis whole{};
  bool any = section.has(key);
  for (auto const& value : values) any = any || value;
  if (!any) section.throw_missing(key);
  for (std::size_t axis = 0; axis < whole.size(); ++axis) {
    if (!values[axis])
      throw Error(fmt::format("{} has no value for {}", section.shown(key), axis_letters[axis]),
                  section.place(key),
                  section.hint(key));
    whole[axis] = *values[axis];
  }
  return whole;
}

motion::CornerRule read_rule(Section const& section, SettingsReport const& report) {
  std::optional<std::string> const rule = section.text("corner_rule");
  bool const report_rounds = report.corner_rounding_mm && !report.corner_jump_mm_s[0];
  if (!rule) return report_rounds ? motion::CornerRule::rounding : motion::CornerRule::jump;
  if (*rule == "jump") return motion::CornerRule::jump;
  if (*rule == "rounding") return motion::CornerRule::rounding;
  throw Error(
      fmt::format(
          "{} is \"{}\": expected \"jump\" or \"rounding\"", section.shown("corner_rule"), *rule),
      section.place("corner_rule"),
      "\"jump\": corners are taken at a set speed change per axis; \"rounding\": at a set "
      "deviation");
}

motion::TravelRule read_travel_rule(Section const& section) {
  constexpr std::string_view key = "travel_acceleration_holds_for";
  std::optional<std::string> const rule = section.text(key);
  if (!rule || *rule == "moves without E") return motion::TravelRule::without_e;
  if (*rule == "G0") return motion::TravelRule::rapid;
  throw Error(
      fmt::format(
          "{} is \"{}\": expected \"moves without E\" or \"G0\"", section.shown(key), *rule),
      section.place(key),
      "most printers use the travel acceleration for moves that do not turn the screw");
}

void read_corners(Section const& section, SettingsReport const& report, motion::Limits& limits) {
  limits.corner_rule = read_rule(section, report);
  SomeAxes jump = key_or_report(section, "corner_jump_mm_s", report.corner_jump_mm_s);
  std::optional<double> rounding = section.number("corner_rounding_mm", Rule::positive);
  if (!rounding) rounding = report.corner_rounding_mm;
  if (limits.corner_rule == motion::CornerRule::rounding) {
    if (!rounding) section.throw_missing("corner_rounding_mm");
    // Only E's jump holds under this rule: twice its top speed never limits an axis.
    for (std::size_t axis = 0; axis < motion::axis_e; ++axis)
      if (!jump[axis]) jump[axis] = 2 * limits.max_speed_mm_s[axis];
  }
  if (rounding) limits.corner_rounding_mm = *rounding;
  limits.corner_jump_mm_s = all_axes(section, "corner_jump_mm_s", jump);
}

motion::Limits read_limits(Section const& section, SettingsReport const& report) {
  std::optional<double> acceleration = section.number("acceleration_mm_s2", Rule::positive);
  std::optional<double> travel = section.number("travel_acceleration_mm_s2", Rule::positive);
  if (!acceleration) {
    acceleration = report.acceleration_mm_s2;
    if (!travel) travel = report.travel_acceleration_mm_s2;
  }
  if (!acceleration) section.throw_missing("acceleration_mm_s2");
  auto const per_axis = [&](std::string_view key, SomeAxes const& reported) {
    return all_axes(section, key, key_or_report(section, key, reported));
  };
  motion::Limits limits{
      .acceleration_mm_s2 = *acceleration,
      .travel_acceleration_mm_s2 = travel.value_or(*acceleration),
      .corner_jump_mm_s = {},
      .max_speed_mm_s = per_axis("max_speed_mm_s", report.max_speed_mm_s),
      .max_acceleration_mm_s2 = per_axis("max_acceleration_mm_s2", report.max_acceleration_mm_s2)};
  std::optional<double> retract = section.number("retract_acceleration_mm_s2", Rule::positive);
  if (!retract) retract = report.retract_acceleration_mm_s2;
  if (retract) limits.retract_acceleration_mm_s2 = *retract;
  limits.travel_rule = read_travel_rule(section);
  if (auto const halt = section.flag("stops_halt")) limits.stops_halt = *halt;
  read_corners(section, report, limits);
  return limits;
}

int read_buffer_moves(Section const& section, int otherwise) {
  std::optional<double> const moves = section.number("buffer_moves", Rule::positive);
  if (!moves) return otherwise;
  if (*moves != std::floor(*moves) || *moves < 2 || *moves > 1e6)
    throw Error(
        fmt::format(
            "{} is {}: expected a whole number, 2 or more", section.shown("buffer_moves"), *moves),
        section.place("buffer_moves"),
        section.hint("buffer_moves"));
  return static_cast<int>(*moves);
}

}  // namespace

void read_machine(Section const& section, Profile& profile) {
  if (!section.present())
    throw Error("the section [machine] is missing",
                section.place(),
                "save what the printer answers when asked for its settings (M503 on most) and type "
                "`[machine]` and `settings_report = \"printer.txt\"`, or give acceleration_mm_s2, "
                "corner_jump_mm_s, max_speed_mm_s and max_acceleration_mm_s2");
  profile.limits = read_limits(section, read_report(section));
  Machine& machine = profile.machine;
  if (auto const ms = section.number("shortest_cut_ms", Rule::positive))
    machine.shortest_cut_ms = *ms;
  machine.buffer_moves = read_buffer_moves(section, machine.buffer_moves);
  machine.max_lines_per_s = section.number("max_lines_per_s", Rule::positive);
  if (auto const speed = section.number("min_speed_mm_s", Rule::not_negative))
    machine.min_speed_mm_s = *speed;
  if (auto const covers = section.flag("g91_covers_e")) machine.g91_covers_e = *covers;
}

}  // namespace meltlag::profile
