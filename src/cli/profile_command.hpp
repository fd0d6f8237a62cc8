// SPDX-License-Identifier: MIT
// `meltlag profile new` and `meltlag profile check`.
#pragma once

#include <CLI/CLI.hpp>

#include "meltlag/profile/profile.hpp"

namespace meltlag::cli {

void add_profile_command(CLI::App& app, int& status);

// How every command loads a profile: with the shipped profiles found from where the program lies.
[[nodiscard]] profile::LoadOptions load_options();

}  // namespace meltlag::cli
