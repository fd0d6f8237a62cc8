// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string>

#include "meltlag/compare/comparison.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

// "lines 12–40"
[[nodiscard]] std::string place_text(std::int64_t first, std::int64_t last);
// What is known of the sheet's clock.
[[nodiscard]] Sentences clock_findings(compare::PrintComparison const& comparison);
// Whether chance alone hardly makes such a stretch; those that follow are weaker still.
[[nodiscard]] inline bool stands_out(compare::RowStretch const& stretch) {
  return stretch.weight >= 2;
}

}  // namespace meltlag::report
