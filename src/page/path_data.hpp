// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string>

#include "meltlag/page/html.hpp"
#include "meltlag/page/path_record.hpp"

namespace meltlag::page {

// Whether the page compares two files or shows one.
enum class Files : std::uint8_t { one, two };

// "front left" of the beads' box.
[[nodiscard]] std::string where_on_bed(gcode::BeadBox const& beads, Vec3 at_mm);
// The stretches as columns, layers and worst places as JSON. page/path.js reads them.
void write_path_data(Out const& out, PathRecord const& path, Files files);

}  // namespace meltlag::page
