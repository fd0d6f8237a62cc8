// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

// Adds `builds`; its exit status goes to `status`, which must outlive the parsing.
void add_builds_command(CLI::App& app, int& status);

}  // namespace meltlag::cli
