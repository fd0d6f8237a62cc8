// SPDX-License-Identifier: MIT
// Measured values on their way into a profile.
#pragma once

#include <string>
#include <vector>

#include "output_files.hpp"

namespace meltlag::cli {

struct ProfileEdit {
  std::string section, key;
  std::string value;  // TOML text
};

// "[feed] delivered_factor = 0.958", one a line, indented.
[[nodiscard]] std::string listed(std::vector<ProfileEdit> const& edits);

// Writes the profile `from` with the edits as `to`, its comments kept. Throws Error, and writes
// nothing, where the changed profile would not load.
void write_profile(std::string const& from,
                   std::string const& to,
                   std::vector<ProfileEdit> const& edits,
                   Overwrite overwrite);

// The same with a text that was changed already; `changes` are lines for the message.
void write_profile_text(std::string const& text,
                        std::string const& to,
                        std::string const& changes,
                        Overwrite overwrite);

}  // namespace meltlag::cli
