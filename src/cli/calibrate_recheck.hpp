// SPDX-License-Identifier: MIT
// `meltlag calibrate recheck`: whether the profile's lag still holds.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_recheck(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
