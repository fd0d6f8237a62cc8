// SPDX-License-Identifier: MIT
// Between which bounds a value can be meant at all, and what is usual: a slip of the unit or of the
// point is caught before anything is computed from it.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace meltlag::profile {

// What is wrong with a value that cannot be meant ("that cannot be meant: usual is 0.3 to 2 mm");
// empty where it can, or where nothing is known of the key. `section` as in the schema; of the
// axes of [machine] the key that holds them ("machine", "max_speed_mm_s").
[[nodiscard]] std::string makes_no_sense(std::string_view section,
                                         std::string_view key,
                                         double value);

// The number that somebody types with a decimal comma in `key = 3,37`, with a point ("3.37");
// nothing where the line is no such thing.
[[nodiscard]] std::optional<std::string> with_decimal_point(std::string_view line);

}  // namespace meltlag::profile
