// SPDX-License-Identifier: MIT
// One wall that climbs all the time.
#pragma once

#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>

namespace meltlag::testing {

struct Vase {
  int turns = 10, chords = 40;  // chords of each turn
  double turn_mm = 0.3;         // that it rises in each
  double radius_mm = 20;
};

// From the bed on, in relative E, about X 50 Y 50.
inline std::string spiral_vase(Vase const& vase = {}) {
  std::string out = "G21\nG90\nM83\nM104 S200\nG1 X70 Y50 Z0 F6000\n";
  double const chord_mm = 2 * vase.radius_mm * std::sin(std::numbers::pi / vase.chords);
  for (int i = 1; i <= vase.turns * vase.chords; ++i) {
    double const angle = 2 * std::numbers::pi * i / vase.chords;
    char line[96];
    std::snprintf(line,
                  sizeof line,
                  "G1 X%.4f Y%.4f Z%.5f E%.5f F1200\n",
                  50 + vase.radius_mm * std::cos(angle),
                  50 + vase.radius_mm * std::sin(angle),
                  vase.turn_mm * i / vase.chords,
                  0.09 * chord_mm);
    out += line;
  }
  return out;
}

}  // namespace meltlag::testing
