// SPDX-License-Identifier: MIT
// `meltlag calibrate give`: what gives way under the screw's thrust.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_give(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
