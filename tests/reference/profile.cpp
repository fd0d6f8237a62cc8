// SPDX-License-Identifier: MIT
// The few keys of a profile that the reference needs. `base` is not followed.
#include <cctype>
#include <cstdlib>
#include <map>
#include <stdexcept>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

using Values = std::map<std::string, std::string, std::less<>>;  // section.key -> text

std::string trimmed(std::string_view text) {
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.front()))) {
    text.remove_prefix(1);
  }
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back()))) {
    text.remove_suffix(1);
  }
  return std::string(text);
}

std::string without_remark(std::string_view line) {
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (line[i] == '"') quoted = !quoted;
    if (line[i] == '#' && !quoted) return trimmed(line.substr(0, i));
  }
  return trimmed(line);
}

Values split(std::string_view toml) {
  Values values;
  std::string section;
  for (std::size_t at = 0; at < toml.size();) {
    const std::size_t end = std::min(toml.find('\n', at), toml.size());
    const std::string line = without_remark(toml.substr(at, end - at));
    at = end + 1;
    const std::size_t equals = line.find('=');
    if (line.size() > 2 && line.front() == '[' && line.back() == ']') {
      section = trimmed(std::string_view(line).substr(1, line.size() - 2));
    } else if (equals != std::string::npos) {
      const std::string key = trimmed(std::string_view(line).substr(0, equals));
      values[section + "." + key] = trimmed(std::string_view(line).substr(equals + 1));
    }
  }
  return values;
}

double number_of(const std::string& key, const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (end == text.c_str() || *end != 0) throw std::runtime_error(key + ": no number: " + text);
  return value;
}

class Reader {
 public:
  explicit Reader(Values values) : values_(std::move(values)) {}

  const std::string* find(std::string_view key) const {
    const auto it = values_.find(key);
    return it == values_.end() ? nullptr : &it->second;
  }
  std::optional<double> real(std::string_view key) const {
    const std::string* text = find(key);
    if (text == nullptr) return std::nullopt;
    return number_of(std::string(key), *text);
  }
  void real(std::string_view key, double& to) const {
    if (const auto value = real(key)) to = *value;
  }
  void flag(std::string_view key, bool& to) const {
    if (const std::string* text = find(key)) to = *text == "true";
  }
  // {x = 10, y = 10, z = 0.4, e = 5}, any of them.
  void axes(std::string_view key, PerAxis& to) const {
    const std::string* text = find(key);
    if (text == nullptr) return;
    constexpr std::string_view names = "xyze";
    for (std::size_t at = 0; (at = text->find('=', at)) != std::string::npos; ++at) {
      const std::size_t name = text->find_last_not_of(" \t", at - 1);
      const std::size_t axis = names.find((*text)[name]);
      if (axis == std::string_view::npos) throw std::runtime_error(std::string(key) + ": " + *text);
      const std::size_t end = text->find_first_of(",}", at);
      to[axis] = number_of(std::string(key), trimmed(text->substr(at + 1, end - at - 1)));
    }
  }
  bool says(std::string_view key, std::string_view word) const {
    const std::string* text = find(key);
    return text != nullptr && text->find(word) != std::string::npos;
  }

 private:
  Values values_;
};

void read_plant(const Reader& in, Plant& plant) {
  in.real("feed.slicer_diameter_mm", plant.slicer_diameter_mm);
  in.real("feed.delivered_factor", plant.delivered_factor);
  in.real("feed.reverse_factor", plant.reverse_factor);
  in.real("feed.backlash_mm", plant.backlash_mm);
  in.real("feed.backlash_mm", plant.backlash_mm);
  in.real("lag.run_on_mm3", plant.run_on_mm3);
  in.real("lag.at_flow_mm3_s", plant.at_flow_mm3_s);
  in.real("lag.flow_index", plant.flow_index);
  in.real("lag.leak_per_s", plant.leak_per_s);
  if (const auto value = in.real("lag.at_c")) plant.at_c = value;
  if (const auto value = in.real("material.activation_kj_mol")) plant.activation_kj_mol = value;
  if (const auto value = in.real("limits.max_flow_mm3_s")) plant.max_flow_mm3_s = value;
  if (const auto value = in.real("limits.max_burst_mm3_s")) plant.max_burst_mm3_s = value;
  in.real("limits.burst_mm3", plant.burst_mm3);
}

void read_machine(const Reader& in, Machine& machine) {
  Limits& limits = machine.limits;
  in.real("machine.acceleration_mm_s2", limits.acceleration_mm_s2);
  limits.travel_acceleration_mm_s2 = limits.acceleration_mm_s2;
  in.real("machine.travel_acceleration_mm_s2", limits.travel_acceleration_mm_s2);
  in.real("machine.retract_acceleration_mm_s2", limits.retract_acceleration_mm_s2);
  in.axes("machine.corner_jump_mm_s", limits.jump_mm_s);
  in.axes("machine.max_speed_mm_s", limits.max_speed_mm_s);
  in.axes("machine.max_acceleration_mm_s2", limits.max_acceleration_mm_s2);
  in.real("machine.corner_rounding_mm", machine.rounding_mm);
  in.flag("machine.stops_halt", machine.stops_halt);
  bool covers = machine.e_mode == EMode::g91_covers_e;
  in.flag("machine.g91_covers_e", covers);
  machine.e_mode = covers ? EMode::g91_covers_e : EMode::g91_leaves_e;
  if (in.says("machine.corner_rule", "rounding")) machine.rule = CornerRule::rounding;
  if (in.says("machine.travel_acceleration_holds_for", "all")) {
    machine.travel_rule = TravelRule::all_travels;
  }
  in.real("limits.cold_below_c", machine.cold_below_c);
}

}  // namespace

void read_profile(std::string_view toml, Plant& plant, Machine& machine) {
  const Reader in(split(toml));
  if (in.find(".base") != nullptr) throw std::runtime_error("profile: `base` is not followed here");
  if (in.find("lag.run_on_mm3") == nullptr) throw std::runtime_error("profile: no measured lag");
  read_plant(in, plant);
  read_machine(in, machine);
}

}  // namespace meltlag_reference
