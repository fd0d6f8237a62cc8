// SPDX-License-Identifier: MIT
#include "meltlag/profile/starter.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <string_view>

#include "meltlag/profile/edit.hpp"
#include "schema.hpp"

namespace meltlag::profile {
namespace {

constexpr std::string_view starter_head =
    "# A profile of one machine. A line that begins with # is not read: take the # away and put "
    "your own\n"
    "# value where you know it. KEY_sd beside a measured key is its standard deviation.\n"
    "# `meltlag profile check` says in words what the profile describes and what to do next.\n";

struct Intro {
  std::string_view section, text;
};
constexpr Intro intros[] = {
    {"feed", "# Between what the file asks for and what the screw delivers.\n"},
    {"lag", "# The lag, measured. Leave it out as long as you have not measured it.\n"},
    {"barrel",
     "# What holds melt, measured with a caliper. Barrel, nozzle, mechanics and material together "
     "say\n"
     "# where the lag comes from; without a measured lag they are all needed.\n"},
    {"nozzle", ""},
    {"mechanics",
     "# All that stands between the screw's thrust and the head, each with its stiffness along the "
     "screw:\n"
     "# hang a weight on it and read a dial gauge, n_per_mm = 9.81 · kg / mm. Or read the gauge "
     "while\n"
     "# printing: { name = \"bracket\", deflection_mm = 0.03, at_flow_mm3_s = 5 }. Give parts or "
     "load_test.\n"},
    {"material", ""},
    {"machine",
     "# What the printer's own planner obeys. Ask the printer for its settings (M503 on most); "
     "save the\n"
     "# answer to a file and name it as settings_report, or give the values here.\n"},
    {"limits", "# What the machine must not be asked for.\n"},
};

std::string full_name(KnownKey const& key) {
  return key.section.empty() ? std::string{key.name} : fmt::format("{}.{}", key.section, key.name);
}

// One key: its meaning above it, set or as a comment.
std::string key_lines(KnownKey const& key, StarterValues const& values) {
  auto const found = values.find(full_name(key));
  std::string const line = found != values.end() ? fmt::format("{} = {}", key.name, found->second)
                                                 : fmt::format("#{} = {}", key.name, key.example);
  return fmt::format("# {}\n{}\n", key.meaning, line);
}

std::string section_lines(std::string_view section, StarterValues const& values) {
  std::string lines;
  for (KnownKey const& key : known_keys())
    if (key.section == section) lines += key_lines(key, values);
  return lines;
}

// "{ x = 500.0, y = 500.0 }"; empty where the report is silent.
std::string axes_text(SomeAxes const& axes) {
  constexpr std::string_view names = "xyze";
  std::string text;
  for (std::size_t axis = 0; axis < axes.size(); ++axis)
    if (axes[axis])
      text +=
          fmt::format("{}{} = {}", text.empty() ? "" : ", ", names[axis], toml_number(*axes[axis]));
  return text.empty() ? text : fmt::format("{{ {} }}", text);
}

}  // namespace

std::string starter(StarterValues const& values) {
  assert(std::ranges::all_of(values, [](auto const& value) {
    std::size_t const dot = value.first.find('.');
    bool const top = dot == std::string::npos;
    return find_key(top ? "" : value.first.substr(0, dot),
                    top ? value.first : value.first.substr(dot + 1));
  }));
  std::string text = fmt::format("{}\n{}", starter_head, section_lines("", values));
  for (Intro const& intro : intros)
    text += fmt::format(
        "\n[{}]\n{}{}", intro.section, intro.text, section_lines(intro.section, values));
  return text;
}

StarterValues machine_values(SettingsReport const& report) {
  StarterValues values;
  auto const set = [&](char const* name, std::string const& text) {
    if (!text.empty()) values[std::string{"machine."} + name] = text;
  };
  auto const number = [](std::optional<double> const& value) {
    return value ? toml_number(*value) : std::string{};
  };
  set("acceleration_mm_s2", number(report.acceleration_mm_s2));
  set("travel_acceleration_mm_s2", number(report.travel_acceleration_mm_s2));
  set("retract_acceleration_mm_s2", number(report.retract_acceleration_mm_s2));
  set("corner_jump_mm_s", axes_text(report.corner_jump_mm_s));
  set("corner_rounding_mm", number(report.corner_rounding_mm));
  if (report.corner_rounding_mm && !report.corner_jump_mm_s[0]) set("corner_rule", "\"rounding\"");
  set("max_speed_mm_s", axes_text(report.max_speed_mm_s));
  set("max_acceleration_mm_s2", axes_text(report.max_acceleration_mm_s2));
  return values;
}

}  // namespace meltlag::profile
