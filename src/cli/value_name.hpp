// SPDX-License-Identifier: MIT
// How help and manual pages call what an option takes.
#pragma once

#include <CLI/CLI.hpp>
#include <string>

namespace meltlag::cli {

// "MM" for "MM:POSITIVE", "N in [5 - 200]" for "N:INT in [5 - 200]"; FILE where nothing was said.
[[nodiscard]] std::string value_name(CLI::Option const& option);

}  // namespace meltlag::cli
