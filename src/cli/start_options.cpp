// SPDX-License-Identifier: MIT
#include "start_options.hpp"

namespace meltlag::cli {

void add_start_options(CLI::App& command, std::string& start, std::string& end, bool& plain_start) {
  command.add_option("--start", start, "Your own start code, put in front as it is")
      ->type_name("FILE");
  command.add_option("--end", end, "Your own end code, appended as it is")->type_name("FILE");
  command.add_flag("--plain-start",
                   plain_start,
                   "Only heat, home and switch off; may be wrong for a cooled throat");
}

}  // namespace meltlag::cli
