// SPDX-License-Identifier: MIT
// TOML text → one checked table: inheritance resolved, every key known, every node remembering its
// file.
#pragma once

#include <toml++/toml.h>

#include <string>
#include <string_view>

#include "meltlag/base/error.hpp"

namespace meltlag::profile {

// The whole file. Throws Error if it is missing, unreadable, a directory or absurdly large.
[[nodiscard]] std::string read_text(std::string const& path, std::string_view what);

// Throws Error at `place` unless the file that `key` names is there; it is looked for beside the
// profile.
void require_file(std::string const& path, Place const& place, std::string_view key);

// A lag that a base holds and that was left there, as it belongs to another build.
struct LeftLag {
  std::string base;     // the file that holds it; empty where none was left
  std::string differs;  // "[mechanics]", "[nozzle] and [material]"
};

// Parses, checks that all keys are known, and lays the tables of `base` files underneath.
// `name` is what errors call the text, and the directory that relative paths start from. A base's
// [lag] is left where the profile does not say the run-on itself and its barrel, nozzle, mechanics
// or material are others than the base's; `left` says so if it is given.
[[nodiscard]] toml::table read_document(std::string_view text,
                                        std::string const& name,
                                        LeftLag* left = nullptr);

// Fills keys missing in `upper` from `lower`. A value given in `upper` also displaces what belongs
// to the replaced one (its `_sd`, the alternative way to say the same).
void inherit(toml::table& upper, toml::table&& lower, std::string_view section);

[[nodiscard]] Place place_of(toml::source_region const& source);
// `path` as written in the file of `node`.
[[nodiscard]] std::string relative_to(toml::source_region const& source, std::string const& path);

}  // namespace meltlag::profile
