// SPDX-License-Identifier: MIT
#include "meltlag/testpiece/program_frame.hpp"

#include <fmt/format.h>

namespace meltlag::testpiece {

std::string feed_cautions() {
  return "; Cautions\n"
         "; - Nozzle, barrel and melt burn skin. Hot melt may spit: keep face and hands away.\n"
         "; - Fumes may be harmful: ventilate. Never heat PVC or plastic of unknown origin.\n"
         "; - Screw and axes pinch and draw in fingers, hair and sleeves: guard them.\n"
         "; - Never leave the heated machine alone; keep its power switch within reach.\n"
         "; - The material's safety data sheet, the makers' instructions and local rules come "
         "first.\n";
}

std::string common_modes() {
  return "G21 ; mm\n"
         "G90 ; absolute positions\n"
         "M83 ; relative E\n"
         "M220 S100 ; speed and flow as written: leave both knobs alone\n"
         "M221 S100\n"
         "G92 E0\n";
}

std::string plain_start(double nozzle_c, double bed_c) {
  std::string text =
      "; Plain start: it may be wrong for a machine with a cooled throat, a probe or a second "
      "heater.\n";
  if (bed_c > 0) text += fmt::format("M140 S{:g}\n", bed_c);
  text += fmt::format("M104 S{:g}\n", nozzle_c);
  text += "G21\nG90\nG28\n";
  if (bed_c > 0) text += fmt::format("M190 S{:g}\n", bed_c);
  return text + fmt::format("M109 S{:g}\n", nozzle_c);
}

std::string plain_end() { return "M104 S0\nM140 S0\nM107\nM84\n"; }

std::string whole_lines(std::string code) {
  if (!code.empty() && code.back() != '\n') code += '\n';
  return code;
}

}  // namespace meltlag::testpiece
