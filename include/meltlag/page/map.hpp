// SPDX-License-Identifier: MIT
// The map of a test piece, to lay it on.
#pragma once

#include <string>
#include <vector>

#include "meltlag/testpiece/test_piece.hpp"

namespace meltlag::page {

// A reading's place for the map.
struct MapMark {
  int number = 0;  // the row in the sheet
  int trace = 0;
  double ruler_mm = 0;
};

// The piece from above as SVG at 1:1 (mm units, A4): walls with their numbers, the ruler, an arrow
// with the row's number at each mark, a 100 mm line to check the printer's scale, and the cautions.
[[nodiscard]] std::string make_map(testpiece::TestPiece const& piece,
                                   std::vector<MapMark> const& marks);

}  // namespace meltlag::page
