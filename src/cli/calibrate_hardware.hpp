// SPDX-License-Identifier: MIT
// meltlag calibrate hardware: blobs and gaps of hardware pieces, and old prints against new ones.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_hardware(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
