// SPDX-License-Identifier: MIT
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <optional>
#include <set>
#include <vector>

#include "document.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/base/text.hpp"
#include "read_parts.hpp"
#include "schema.hpp"

namespace meltlag::profile {
namespace {

namespace fs = std::filesystem;

// Where materials are looked for, in this order.
std::vector<fs::path> directories(toml::source_region const& source, std::string const& share_dir) {
  std::vector<fs::path> found{system::path_of(relative_to(source, "materials"))};
  if (!share_dir.empty()) found.push_back(system::path_of(share_dir) / "materials");
  return found;
}

std::set<std::string> names_in(std::vector<fs::path> const& directories) {
  std::set<std::string> names;
  for (fs::path const& directory : directories) {
    std::error_code ignored;
    for (fs::directory_entry const& entry : fs::directory_iterator(directory, ignored))
      if (entry.path().extension() == ".toml") names.insert(entry.path().stem().string());
  }
  return names;
}

[[noreturn]] void throw_not_found(std::string const& name,
                                  std::vector<fs::path> const& looked_in,
                                  Place const& place) {
  std::set<std::string> const names = names_in(looked_in);
  std::vector<std::string> shown;
  for (fs::path const& directory : looked_in) shown.push_back(directory.string());
  std::string const hint = names.empty()
                               ? fmt::format("no materials are in {}", fmt::join(shown, " or "))
                               : fmt::format("known materials: {}; your own goes to {}",
                                             fmt::join(names, ", "),
                                             (looked_in.front() / (name + ".toml")).string());
  throw Error(fmt::format("there is no material '{}'", name), place, hint);
}

bool is_plain_name(std::string_view name) {
  return !name.empty() && std::ranges::all_of(name, [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
  });
}

// As it is written in the first directory that has it, else with other capitals.
std::optional<fs::path> material_path(std::string const& name,
                                      std::vector<fs::path> const& looked_in) {
  std::error_code ignored;
  for (fs::path const& directory : looked_in)
    if (fs::path path = directory / (name + ".toml"); fs::exists(path, ignored)) return path;
  for (std::string const& known : names_in(looked_in))
    if (same_ignoring_case(known, name)) return material_path(known, looked_in);
  return std::nullopt;
}

toml::table material_table(fs::path const& path) {
  std::string const name = path.string();
  toml::table document = read_document(read_text(name, "material"), name);
  toml::table* material = document["material"].as_table();
  if (!material)
    throw Error("the section [material] is missing",
                {.file = name},
                "a material's values stand under [material]");
  return std::move(*material);
}

// The values of one material, from the first directory that has it.
toml::table named_material(toml::node const& use, std::string const& share_dir) {
  Place const place = place_of(use.source());
  auto const name = use.value_exact<std::string>();
  if (!name || !is_plain_name(*name))
    throw Error("[material] use is not the name of a material",
                place,
                "write it in quotes without directory and ending: use = \"pla\"");
  std::vector<fs::path> const looked_in = directories(use.source(), share_dir);
  std::optional<fs::path> const found = material_path(*name, looked_in);
  if (!found) throw_not_found(*name, looked_in, place);
  toml::table values = material_table(*found);
  for (std::string_view const key : {"use", "mix"}) values.erase(key);
  return values;
}

toml::table mixed_material(toml::node const& mix, std::string const& share_dir) {
  Place const place = place_of(mix.source());
  std::string const hint = "mix = [{ use = \"pla\", parts = 3 }, { use = \"pp\", parts = 1 }]";
  toml::array const* const list = mix.as_array();
  if (!list || list->empty()) throw Error("[material] mix is not a list of materials", place, hint);
  std::vector<double> parts;
  std::vector<toml::table> materials;
  for (toml::node const& entry : *list) {
    toml::table const* const table = entry.as_table();
    auto const amount = table ? (*table)["parts"].value<double>() : std::nullopt;
    if (!amount || !(*amount > 0) || !table->contains("use"))
      throw Error("[material] mix needs `use` and `parts` above 0 in each entry", place, hint);
    parts.push_back(*amount);
    materials.push_back(named_material(*table->get("use"), share_dir));
  }
  return mixed(parts, materials);
}

}  // namespace

void lay_material_under(toml::table& root, std::string const& share_dir) {
  toml::table* own = root["material"].as_table();
  if (!own || (!own->contains("use") && !own->contains("mix"))) return;
  if (own->contains("use") && own->contains("mix"))
    throw Error("[material] has both use and mix",
                place_of(own->get("mix")->source()),
                "keep one of the two");
  toml::table lower = own->contains("use") ? named_material(*own->get("use"), share_dir)
                                           : mixed_material(*own->get("mix"), share_dir);
  inherit(*own, std::move(lower), "material.file");
}

}  // namespace meltlag::profile
