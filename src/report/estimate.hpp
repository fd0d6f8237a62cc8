// SPDX-License-Identifier: MIT
// One estimate in words and as JSON.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "meltlag/fit/fit.hpp"

namespace meltlag::report {

inline constexpr double two_sided_95 = 1.96;  // standard deviations of a normal distribution

[[nodiscard]] std::string plus_minus(fit::Value const& value);
[[nodiscard]] nlohmann::json estimate_json(fit::Value const& value);

}  // namespace meltlag::report
