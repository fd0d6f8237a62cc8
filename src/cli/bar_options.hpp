// SPDX-License-Identifier: MIT
// What the bars of a page measure that was scanned, where the printer scaled it.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

// --bar-x and --bar-y; with `scan` they make sense beside that option alone.
void add_bar_options(CLI::App& command,
                     double& bar_x_mm,
                     double& bar_y_mm,
                     CLI::Option* scan = nullptr);

}  // namespace meltlag::cli
