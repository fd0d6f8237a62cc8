// SPDX-License-Identifier: MIT
// `meltlag calibrate timing`: the printer's own timing by a stopwatch.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_timing(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
