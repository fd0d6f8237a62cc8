// SPDX-License-Identifier: MIT
// `meltlag calibrate fit`: from a filled-in measurement sheet to a profile.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_fit(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
