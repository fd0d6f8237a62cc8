// SPDX-License-Identifier: MIT
// Small helpers for text, independent of the locale.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

namespace meltlag {

[[nodiscard]] constexpr bool is_blank(char c) { return c == ' ' || c == '\t'; }
[[nodiscard]] constexpr bool is_digit(char c) { return c >= '0' && c <= '9'; }
[[nodiscard]] constexpr char to_upper(char c) {
  return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

// `text` without spaces and tabs at both ends; a view into it.
[[nodiscard]] std::string_view trim(std::string_view text);

// True when `word` (upper case) occurs in `text`, whose case does not matter.
[[nodiscard]] bool contains_ignoring_case(std::string_view text, std::string_view word);

// Whether they are the same but for the case of the letters a to z.
[[nodiscard]] bool same_ignoring_case(std::string_view a, std::string_view b);

// Letters to insert, delete, replace or swap with their neighbour to turn one word into the other.
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);

// The nearest of `names` to `name` by edit distance, the first of equals. REQUIRES: names not
// empty.
[[nodiscard]] std::string nearest(std::string_view name, std::span<std::string const> names);

}  // namespace meltlag
