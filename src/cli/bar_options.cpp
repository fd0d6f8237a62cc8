// SPDX-License-Identifier: MIT
#include "bar_options.hpp"

namespace meltlag::cli {

void add_bar_options(CLI::App& command, double& bar_x_mm, double& bar_y_mm, CLI::Option* scan) {
  auto const bar = [&](char const* name, double& value, char const* help) {
    CLI::Option* const option =
        command.add_option(name, value, help)->check(CLI::Range(120.0, 180.0))->type_name("MM");
    if (scan != nullptr) option->needs(scan);
  };
  bar("--bar-x", bar_x_mm, "What the page's long bar measures (150)");
  bar("--bar-y", bar_y_mm, "What the bar at the left measures (150)");
}

}  // namespace meltlag::cli
