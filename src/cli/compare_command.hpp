// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>

namespace meltlag::cli {

void add_compare_command(CLI::App& app, int& status);

}  // namespace meltlag::cli
