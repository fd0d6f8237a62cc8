// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

// Adds `causes`; its exit status goes to `status`, which must outlive the parsing.
void add_causes_command(CLI::App& app, int& status);

}  // namespace meltlag::cli
