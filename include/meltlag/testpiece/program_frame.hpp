// SPDX-License-Identifier: MIT
// What stands around every program that Meltlag writes itself: cautions, start and end.
#pragma once

#include <string>

namespace meltlag::testpiece {

// Comment lines for the top of the file.
[[nodiscard]] std::string feed_cautions();

// Heats, homes and sets modes. Below the person's own start code only the modes are set, by
// common_modes().
[[nodiscard]] std::string plain_start(double nozzle_c, double bed_c);
// mm, absolute XYZ, relative E, speed and flow knobs at 100 %.
[[nodiscard]] std::string common_modes();
// Turns heaters and motors off.
[[nodiscard]] std::string plain_end();

// `code` with its last line ended.
[[nodiscard]] std::string whole_lines(std::string code);

}  // namespace meltlag::testpiece
