// SPDX-License-Identifier: MIT
#pragma once

#include "meltlag/motion/limits.hpp"

namespace meltlag::compare {

// How a file is read and timed.
struct ProgramOptions {
  motion::Limits limits;
  double slicer_diameter_mm;
  bool g91_covers_e = true;
};

}  // namespace meltlag::compare
