// SPDX-License-Identifier: MIT
// `meltlag calibrate`: one file for each of its commands.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_command(CLI::App& app, int& status);

}  // namespace meltlag::cli
