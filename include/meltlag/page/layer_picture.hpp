// SPDX-License-Identifier: MIT
// One layer as a drawing of its own (SVG): what both files lay down, beside each other.
#pragma once

#include <cstddef>

#include "meltlag/page/html.hpp"
#include "meltlag/page/path_record.hpp"

namespace meltlag::page {

// Draws the beads of layer `layer` (0 is the lowest) from above, as wide as what comes out makes
// them for the layer's height, coloured by got / wanted: red is too much, blue too little. A cell
// that gets more than it has room for is a disc that covers as much of the bed. What lies on
// travels is red. REQUIRES: layer < path.layers().size(), and `path` is finished.
void write_layer_picture(Out const& out, PathRecord const& path, std::size_t layer);

}  // namespace meltlag::page
