// SPDX-License-Identifier: MIT
// `meltlag calibrate stiffness`: what gives way under the screw's thrust.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_stiffness(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
