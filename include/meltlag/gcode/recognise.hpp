// SPDX-License-Identifier: MIT
// Whether a file is G-code at all: a model, a profile or an empty file is not; and its first line.
#pragma once

#include <string>
#include <string_view>

namespace meltlag::gcode {

// Reads a regular file until the first line that begins with a G, M or T code; others pass, as they
// can be read only once. Throws Error where there is none, and where the file cannot be read.
void require_gcode(std::string const& path);

// A line that opens or ends a program; the mark goes after it where it is the first.
[[nodiscard]] bool is_percent(std::string_view line);

}  // namespace meltlag::gcode
