// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

#include "meltlag/compare/comparison.hpp"

namespace meltlag::report {

[[nodiscard]] constexpr std::string_view finding_name(compare::Finding finding) {
  using compare::Finding;
  switch (finding) {
    case Finding::as_expected:
      return "as_expected";
    case Finding::run_on_larger:
      return "run_on_larger";
    case Finding::run_on_smaller:
      return "run_on_smaller";
    case Finding::factor_larger:
      return "delivered_factor_larger";
    case Finding::factor_smaller:
      return "delivered_factor_smaller";
    case Finding::thin_after_travel:
      return "thin_after_travel";
    case Finding::uneven:
      return "uneven";
    case Finding::too_few:
      return "too_few";
  }
  return {};
}

}  // namespace meltlag::report
