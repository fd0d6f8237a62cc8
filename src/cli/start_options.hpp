// SPDX-License-Identifier: MIT
// How a program that Meltlag writes for the printer begins and ends.
#pragma once

#include <CLI/CLI.hpp>
#include <string>

namespace meltlag::cli {

// --start FILE, --end FILE and --plain-start.
void add_start_options(CLI::App& command, std::string& start, std::string& end, bool& plain_start);

}  // namespace meltlag::cli
