// SPDX-License-Identifier: MIT
// Predicted differences of a side-by-side job, to be ticked off.
#pragma once

#include <span>
#include <string>

#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/judge/differences.hpp"

namespace meltlag::report {

// CSV with the columns place, look_for, left_x_mm, left_y_mm, right_x_mm, layers, left_mm3,
// right_mm3 and an empty `seen`; lines that begin with # say what to do.
[[nodiscard]] std::string tick_sheet(std::span<judge::Difference const> differences,
                                     adapt::SideBySideJob const& job);

// What is printed on the left, in words: as sliced, or with its flow set right.
[[nodiscard]] std::string left_copy(adapt::SideBySideJob const& job);

}  // namespace meltlag::report
