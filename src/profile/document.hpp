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

// Parses, checks that all keys are known, and lays the tables of `base` files underneath.
// `name` is what errors call the text, and the directory that relative paths start from.
[[nodiscard]] toml::table read_document(std::string_view text, std::string const& name);

// Fills keys missing in `upper` from `lower`. A value given in `upper` also displaces what belongs
// to the replaced one (its `_sd`, the alternative way to say the same).
void inherit(toml::table& upper, toml::table&& lower, std::string_view section);

[[nodiscard]] Place place_of(toml::source_region const& source);
// `path` as written in the file of `node`.
[[nodiscard]] std::string relative_to(toml::source_region const& source, std::string const& path);

}  // namespace meltlag::profile
