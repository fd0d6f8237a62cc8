// SPDX-License-Identifier: MIT
// `meltlag calibrate print`: the test piece, its measurement sheet and its map.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_print(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
