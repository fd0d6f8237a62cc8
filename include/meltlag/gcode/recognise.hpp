// SPDX-License-Identifier: MIT
// Whether a file is G-code at all: a model, a profile or an empty file is not.
#pragma once

#include <string>

namespace meltlag::gcode {

// Reads a regular file until the first line that begins with a G, M or T code; others pass, as they
// can be read only once. Throws Error where there is none, and where the file cannot be read.
void require_gcode(std::string const& path);

}  // namespace meltlag::gcode
