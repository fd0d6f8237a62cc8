// SPDX-License-Identifier: MIT
// Values with what they are uncertain by, as text.
#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>

#include "meltlag/compare/verdict.hpp"
#include "meltlag/melt/uncertain.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

inline std::string shown(melt::Uncertain const& value) { return plus_minus(value.value, value.sd); }

inline std::string shown(melt::Uncertain const& value, std::string_view unit) {
  return fmt::format("{} {}", plus_minus(value.value, value.sd), unit);
}

// The mean over prints, and over how many.
inline std::string shown(compare::Sample const& sample) {
  return sample.prints == 0
             ? "none"
             : fmt::format("{} ({})", plus_minus(sample.mean, sample.sd), sample.prints);
}

}  // namespace meltlag::report
