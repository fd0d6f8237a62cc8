// SPDX-License-Identifier: MIT
// Where the solver that fits is not to be had, the command says where it is.
#include "calibrate_command.hpp"

#include "meltlag/base/error.hpp"

namespace meltlag::cli {

void add_calibrate_command(CLI::App& app, int&) {
  CLI::App* const command = app.add_subcommand(
      "calibrate",
      "Measure feed and lag: not part of this build, see calibrate --help\n"
      "Run it with Meltlag on Debian; the profiles that it writes work here as well.");
  command->allow_extras();
  command->callback([] {
    throw Error("this build cannot calibrate",
                {},
                "Run calibrate with Meltlag on Debian; its profiles work here as well.");
  });
}

}  // namespace meltlag::cli
