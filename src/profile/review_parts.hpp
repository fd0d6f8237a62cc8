// SPDX-License-Identifier: MIT
#pragma once

#include "meltlag/profile/review.hpp"

namespace meltlag::profile {

// Each adds its sentences to a review whose numbers are filled in.
void describe(Profile const& profile, Review& review);
void find_missing(Profile const& profile, Review& review);
void find_odd(Profile const& profile, Review& review);

// Rounded to three digits, never with an exponent: "0.0123", "1500".
[[nodiscard]] std::string in_figures(double value);
// "0.520 ± 0.041 s": both to the deviation's second digit; without ± where the deviation is not
// known.
[[nodiscard]] std::string with_deviation(double value,
                                         std::optional<double> sd,
                                         std::string_view unit);
[[nodiscard]] std::optional<double> deviation(Profile const& profile, std::string_view key);

}  // namespace meltlag::profile
