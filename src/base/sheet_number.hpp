// SPDX-License-Identifier: MIT
// Numbers as people and spreadsheets write them.
#pragma once

#include <string>
#include <string_view>

#include "meltlag/base/sheet.hpp"

namespace meltlag {

enum class NumberProblem {
  none,
  no_number,
  thousands,  // "1,234.5", "1 234", "1'234", or "1.234" beside decimal commas
  ambiguous,  // "1,234" where the decimal mark is a point elsewhere
  not_finite,
};

struct CellNumber {
  double value = 0;
  bool decimal_comma = false;
  std::string unit = {};  // what stands after the number, without blanks
  NumberProblem problem = NumberProblem::none;
};

// `usual` is what the table's other numbers use.
[[nodiscard]] CellNumber read_cell_number(std::string_view text, DecimalMark usual);

// What is wrong with `cell` of `column` and what to do. REQUIRES: problem is not none.
[[nodiscard]] std::string problem_text(NumberProblem problem,
                                       std::string_view cell,
                                       std::string_view column);
[[nodiscard]] std::string remedy(NumberProblem problem);

// Which decimal mark a number leaves no doubt about; unknown for all else.
[[nodiscard]] DecimalMark mark_shown(std::string_view text);

}  // namespace meltlag
