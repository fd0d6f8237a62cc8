// SPDX-License-Identifier: MIT
// Values that stand one row too high or too low: the map counts from 1, a spreadsheet's first row
// is the header. Such values fit a machine that nobody has, or hardly any.
#pragma once

#include <optional>
#include <vector>

#include "meltlag/fit/fit.hpp"

namespace meltlag::fit {

struct RowShift {
  int by = 0;                           // rows to move the values down by; −1: up
  double misfit = 0, misfit_moved = 0;  // row_misfit() of the fit as it is and of that one
  FitResult moved;
};

// Mean over the rows of (measured − predicted)²/sd², none counted as more than 16: 1 where readings
// scatter as assumed.
[[nodiscard]] double row_misfit(FitResult const& fit);

// Where `fit` is bad and that to the values moved by one row is far better. `rows` are all of the
// sheet, those without a value included.
[[nodiscard]] std::optional<RowShift> suspect_row_shift(reading::PrintedPath const& path,
                                                        std::vector<reading::Reading> const& rows,
                                                        FitOptions const& options,
                                                        FitResult const& fit);

}  // namespace meltlag::fit
