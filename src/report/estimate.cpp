// SPDX-License-Identifier: MIT
#include "estimate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/report/table.hpp"

namespace meltlag::report {

int decimals_for(double sd) {
  if (!(sd > 0) || !std::isfinite(sd)) return 2;
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(sd))), 0, 5);
}

std::string plus_minus(fit::Value const& value) {
  int const decimals = decimals_for(value.sd);
  return fmt::format("{} ± {}", fixed(value.value, decimals), fixed(value.sd, decimals));
}

nlohmann::json estimate_json(fit::Value const& value) {
  return {{"value", value.value}, {"sd", value.sd}};
}

}  // namespace meltlag::report
