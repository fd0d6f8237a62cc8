// SPDX-License-Identifier: MIT
// `meltlag calibrate scan`: from a picture of the ring piece to a sheet for `calibrate fit`.
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_calibrate_scan(CLI::App& calibrate, int& status);

}  // namespace meltlag::cli
