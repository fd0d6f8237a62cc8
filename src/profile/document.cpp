// SPDX-License-Identifier: MIT
#include "document.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string_view>
#include <utility>
#include <vector>

#include "meltlag/base/system.hpp"
#include "meltlag/base/text.hpp"
#include "schema.hpp"
#include "sense.hpp"

namespace meltlag::profile {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t largest_file_bytes = 4 << 20;

// Where two keys say the same thing in two ways, the upper file's way displaces the lower's.
struct Displaces {
  std::string_view section, upper, lower;
};
constexpr auto displacements = std::to_array<Displaces>({
    {"mechanics", "parts", "load_test"},
    {"mechanics", "load_test", "parts"},
    {"barrel", "sections", "melt_volume_mm3"},
    {"limits", "max_pressure_mpa", "max_thrust_n"},
    {"limits", "max_thrust_n", "max_pressure_mpa"},
    {"machine", "settings_report", "acceleration_mm_s2"},
    {"machine", "settings_report", "travel_acceleration_mm_s2"},
    {"machine", "settings_report", "retract_acceleration_mm_s2"},
    {"machine", "settings_report", "corner_jump_mm_s"},
    {"machine", "settings_report", "max_speed_mm_s"},
    {"machine", "settings_report", "max_acceleration_mm_s2"},
});

// What hardly changes the lag, or only says how sure or what a thing is called.
bool bears_on_lag(std::string_view key) {
  constexpr auto others = std::to_array<std::string_view>({"name",
                                                           "longest_residence_s",
                                                           "ooze_mm3_s",
                                                           "density_g_cm3",
                                                           "sticks_c",
                                                           "softens_c",
                                                           "conductivity_w_m_k",
                                                           "heat_capacity_j_g_k",
                                                           "hot_end_c",
                                                           "cold_end_c"});
  return !key.ends_with("_sd") && !key.ends_with("_low") && !key.ends_with("_high") &&
         std::ranges::find(others, key) == others.end();
}

bool displaced(toml::table const& upper, std::string_view section, std::string_view lower_key) {
  if (section == "material" && (upper.contains("use") || upper.contains("mix"))) return true;
  // What was measured, and when, belongs to the build that the base describes.
  if (section.empty() && (lower_key == "measured" || lower_key == "date")) return true;
  for (std::string_view const suffix : {"_sd", "_low", "_high"}) {
    if (!lower_key.ends_with(suffix)) continue;
    if (upper.contains(lower_key.substr(0, lower_key.size() - suffix.size()))) return true;
  }
  return std::ranges::any_of(displacements, [&](Displaces const& rule) {
    return rule.section == section && rule.lower == lower_key && upper.contains(rule.upper);
  });
}

// Keys of version 0.1 and their names since.
constexpr std::array<std::pair<std::string_view, std::string_view>, 4> renamed{
    {{"play_mm", "backlash_mm"},
     {"give_mm", "deflection_mm"},
     {"longest_stay_s", "longest_residence_s"},
     {"knob_mm3", "blob_mm3"}}};

// The new name of a key of version 0.1, `_sd`, `_low` and `_high` after it included; else empty.
std::string new_name(std::string_view name) {
  for (auto const& [old, now] : renamed) {
    if (!name.starts_with(old)) continue;
    std::string_view const end = name.substr(old.size());
    if (end.empty() || end == "_sd" || end == "_low" || end == "_high")
      return fmt::format("{}{}", now, end);
  }
  return {};
}

// Profiles of version 0.1 said that there is no backlash: that is what no key says now.
bool says_nothing(std::string_view name, std::string_view section, toml::node const& node) {
  return section == "feed" && name == "play_mm" && node.value<double>() == 0.0;
}

[[noreturn]] void throw_unknown(toml::key const& key, std::string_view section) {
  std::string const name{key.str()};
  std::string const shown = section.empty() ? "at the top level" : fmt::format("in [{}]", section);
  std::vector<std::string> const names = names_in(section);
  if (std::string const now = new_name(name); std::ranges::find(names, now) != names.end())
    throw Error(fmt::format("'{}' {} is called '{}' since version 0.2", name, shown, now),
                place_of(key.source()),
                fmt::format("write {} in its place; the value means the same", now));
  for (KnownKey const& other : known_keys()) {
    if (other.section == section || other.name != name || other.section.empty()) continue;
    throw Error(fmt::format("unknown key '{}' {}", name, shown),
                place_of(key.source()),
                fmt::format("'{}' belongs to [{}]", name, other.section));
  }
  throw Error(fmt::format("unknown key '{}' {}", name, shown),
              place_of(key.source()),
              fmt::format("the nearest known key is '{}'", nearest(name, names)));
}

void check_keys(toml::table const& table, std::string const& section);

void check_inside(toml::node const& node, std::string const& section, std::string_view key) {
  std::string inside = section.empty() ? std::string{key} : fmt::format("{}.{}", section, key);
  if (section == "machine") inside = "machine.axes";
  if (names_in(inside).empty())
    return;  // a table where none belongs: a wrong type, said by the reader
  if (auto const* table = node.as_table()) check_keys(*table, inside);
  if (auto const* array = node.as_array())
    for (toml::node const& entry : *array)
      if (auto const* table = entry.as_table()) check_keys(*table, inside);
}

void check_keys(toml::table const& table, std::string const& section) {
  std::vector<std::string> const names = names_in(section);
  for (auto&& [key, node] : table) {
    if (says_nothing(key.str(), section, node)) continue;
    if (std::ranges::find(names, key.str()) == names.end()) throw_unknown(key, section);
    check_inside(node, section, key.str());
  }
}

// The same value, whatever its name, its ± and however it is typed (5 or 5.0). A key that only
// `mine` has says more of the same thing, not another thing.
bool still_holds(toml::node const& base, toml::node const& mine) {
  if (auto const* table = base.as_table()) {
    auto const* other = mine.as_table();
    return other && std::ranges::all_of(*table, [&](auto const& entry) {
             toml::node const* const same = other->get(entry.first.str());
             return !bears_on_lag(entry.first.str()) || (same && still_holds(entry.second, *same));
           });
  }
  if (auto const* array = base.as_array()) {
    auto const* other = mine.as_array();
    if (!other || other->size() != array->size()) return false;
    for (std::size_t i = 0; i < array->size(); ++i)
      if (!still_holds(*array->get(i), *other->get(i))) return false;
    return true;
  }
  if (base.is_number() && mine.is_number()) return base.value<double>() == mine.value<double>();
  return base.value<std::string>() == mine.value<std::string>();
}

// The sections that decide the lag and are others than in `base`, as one types them.
std::vector<std::string> other_build(toml::table const& base, toml::table const& mine) {
  std::vector<std::string> differ;
  for (std::string_view const section : {"barrel", "nozzle", "mechanics", "material"}) {
    toml::node const* const old = base.get(section);
    toml::node const* const now = mine.get(section);
    if (old && (!now || !still_holds(*old, *now))) differ.push_back(fmt::format("[{}]", section));
  }
  return differ;
}

// The base under the profile; its lag stays behind where it was measured on another build.
void lay_under(toml::table& mine, toml::table&& base, std::string const& path, LeftLag& left) {
  bool const own_lag = mine.at_path("lag.run_on_mm3").node() != nullptr;
  bool const lag_of_base = base.at_path("lag.run_on_mm3").node() != nullptr;
  toml::table const old = base;
  std::vector<std::string> own_keys;
  if (toml::table const* lag = mine["lag"].as_table())
    for (auto&& [key, node] : *lag) own_keys.emplace_back(key.str());
  inherit(mine, std::move(base), "");
  if (own_lag) left = {};
  std::vector<std::string> const differ = other_build(old, mine);
  toml::table* const lag = mine["lag"].as_table();
  if (own_lag || !lag_of_base || !lag || differ.empty()) return;
  left = {.base = path, .differs = fmt::format("{}", fmt::join(differ, " and "))};
  std::vector<std::string> strange;
  for (auto&& [key, node] : *lag)
    if (std::ranges::find(own_keys, key.str()) == own_keys.end()) strange.emplace_back(key.str());
  for (std::string const& key : strange) lag->erase(key);
}

// One spelling for each file, so that a circle is seen; a pipe has none but its own.
std::string spelling(std::string const& path) {
  std::error_code problem;
  fs::path const canonical = fs::weakly_canonical(system::path_of(path), problem);
  return problem ? path : canonical.string();
}

std::string_view line_of(std::string_view text, std::size_t number) {
  for (; number > 1 && text.find('\n') != std::string_view::npos; --number)
    text.remove_prefix(text.find('\n') + 1);
  return text.substr(0, text.find('\n'));
}

toml::table parse_text(std::string_view text, std::string const& name) {
  try {
    return toml::parse(text, std::string_view{name});
  } catch (toml::parse_error const& error) {
    if (auto const meant = with_decimal_point(line_of(text, error.source().begin.line)))
      throw Error("a decimal comma cannot be read here",
                  place_of(error.source()),
                  fmt::format("use a decimal point: {}", *meant));
    throw Error(fmt::format("this is not valid TOML: {}", error.description()),
                place_of(error.source()),
                "a line reads `key = value` or `[section]`; texts stand in double quotes");
  }
}

// `chain` holds the files already open, from the first to this one.
toml::table read_chain(std::string_view text,
                       std::string const& name,
                       std::vector<std::string>& chain,
                       LeftLag& left) {
  toml::table table = parse_text(text, name);
  check_keys(table, "");
  toml::node const* base = table.get("base");
  if (!base) return table;
  auto const written = base->value_exact<std::string>();
  if (!written || written->empty())
    throw Error("'base' is not the name of a file",
                place_of(base->source()),
                "write it in quotes: base = \"other.toml\"");
  std::string const path = relative_to(base->source(), *written);
  std::string const canonical = spelling(path);
  if (std::ranges::find(chain, canonical) != chain.end())
    throw Error(fmt::format("'base' refers to itself in a circle: {} is already being read", path),
                place_of(base->source()),
                "take the line `base = …` out of one of the files");
  require_file(path, place_of(base->source()), "base");
  chain.push_back(canonical);
  lay_under(table, read_chain(read_text(path, "profile"), path, chain, left), path, left);
  return table;
}

}  // namespace

std::string read_text(std::string const& path, std::string_view what) {
  std::error_code ignored;
  if (fs::is_directory(system::path_of(path), ignored))
    throw Error(
        fmt::format("{} is a directory, not a {}", path, what), {.file = path}, "name a file");
  std::ifstream file(system::path_of(path), std::ios::binary);
  if (!file)
    throw Error(fmt::format("cannot read the {}: {}", what, std::strerror(errno)),
                {.file = path},
                "check the name and that you may read it");
  std::string text(largest_file_bytes + 1, '\0');
  file.read(text.data(), static_cast<std::streamsize>(text.size()));
  text.resize(static_cast<std::size_t>(file.gcount()));
  if (file.bad())
    throw Error(fmt::format("cannot read the {}: {}", what, std::strerror(errno)),
                {.file = path},
                "check the disk or the connection and try again");
  if (text.size() > largest_file_bytes)
    throw Error(
        fmt::format("this is too large for a {}", what), {.file = path}, "is it the right file?");
  return text;
}

void require_file(std::string const& path, Place const& place, std::string_view key) {
  std::error_code ignored;
  if (fs::exists(system::path_of(path), ignored)) return;
  throw Error(fmt::format("there is no file {}", path),
              place,
              fmt::format("{} is looked for beside the file that names it", key));
}

toml::table read_document(std::string_view text, std::string const& name, LeftLag* left) {
  std::vector<std::string> chain{spelling(name)};
  LeftLag unasked;
  return read_chain(text, name, chain, left ? *left : unasked);
}

void inherit(toml::table& upper, toml::table&& lower, std::string_view section) {
  // Asked before anything is moved in, or the first key inherited would displace the next.
  std::vector<std::string> welcome;
  for (auto&& [key, node] : lower)
    if (!upper.contains(key.str()) && !displaced(upper, section, key.str()))
      welcome.emplace_back(key.str());
  for (auto&& [key, node] : lower) {
    toml::node* mine = upper.get(key.str());
    if (mine && mine->is_table() && node.is_table())
      inherit(*mine->as_table(), std::move(*node.as_table()), key.str());
    else if (std::ranges::find(welcome, key.str()) != welcome.end())
      upper.insert(key, std::move(node));
  }
}

Place place_of(toml::source_region const& source) {
  return {.file = source.path ? *source.path : std::string{},
          .line = source.begin.line,
          .column = source.begin.column};
}

std::string relative_to(toml::source_region const& source, std::string const& path) {
  if (!source.path) return path;
  return (system::path_of(*source.path).parent_path() / system::path_of(path)).string();
}

}  // namespace meltlag::profile
