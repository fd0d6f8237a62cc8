// SPDX-License-Identifier: MIT
// A table's text as cells; knows nothing of columns.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag {

struct CellRow {
  std::size_t line = 0;  // of the text, from 1, where the row begins
  std::vector<std::string> cells;
};

struct CellTable {
  char separator = ',';
  std::vector<CellRow> rows;  // those with text in them; the header first
};

// Rows without text and rows that begin with '#' are left out. Cells come without blanks at both
// ends, non-breaking blanks become plain ones. Throws Error where the text is no UTF-8 table or its
// quotes do not close.
[[nodiscard]] CellTable split_cells(std::string_view text, std::string const& name);

}  // namespace meltlag
