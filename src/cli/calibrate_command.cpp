// SPDX-License-Identifier: MIT
#include "calibrate_command.hpp"

#include "calibrate_feed.hpp"
#include "calibrate_fit.hpp"
#include "calibrate_hardware.hpp"
#include "calibrate_print.hpp"
#include "calibrate_recheck.hpp"
#include "calibrate_scan.hpp"
#include "calibrate_stiffness.hpp"
#include "calibrate_timing.hpp"

namespace meltlag::cli {

void add_calibrate_command(CLI::App& app, int& status) {
  CLI::App* const command =
      app.add_subcommand("calibrate",
                         "Measure feed and lag with scale, calipers and ruler, or a scanner.\n"
                         "First the feed, then a test piece; every figure comes with its ±.\n"
                         "Example: meltlag calibrate feed --help");
  command->require_subcommand(1);
  add_calibrate_feed(*command, status);
  add_calibrate_print(*command, status);
  add_calibrate_scan(*command, status);
  add_calibrate_fit(*command, status);
  add_calibrate_stiffness(*command, status);
  add_calibrate_hardware(*command, status);
  add_calibrate_recheck(*command, status);
  add_calibrate_timing(*command, status);
}

}  // namespace meltlag::cli
