// SPDX-License-Identifier: MIT
// Tables that people fill in: every cell can be asked for as text and as a number.
#include <array>
#include <cmath>

#include "meltlag/base/sheet.hpp"
#include "target.hpp"

namespace meltlag::fuzz {

void try_bytes(std::string_view bytes) {
  Sheet const sheet = Sheet::parse(bytes, "sheet.csv");
  constexpr auto units = std::to_array<std::string_view>({"mm", "g"});
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    for (std::string const& column : sheet.columns()) {
      (void)sheet.text(row, column);
      promise(sheet.place(row, column).line > 0, "a cell stands nowhere");
      try {
        auto const number = sheet.number(row, column, units);
        promise(!number || std::isfinite(*number), "a cell is not finite");
      } catch (Error const& error) {
        promise(error.where().line > 0, "a bad cell stands nowhere");
      }
    }
  }
  (void)sheet.remarks();
}

}  // namespace meltlag::fuzz
