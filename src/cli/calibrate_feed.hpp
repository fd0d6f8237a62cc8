// SPDX-License-Identifier: MIT
// `meltlag calibrate feed`: cups on a scale, and bursts for the screw's limits.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_feed(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
