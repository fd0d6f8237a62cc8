// SPDX-License-Identifier: MIT
#include "meltlag/base/text.hpp"

#include <algorithm>
#include <cassert>
#include <vector>

namespace meltlag {

std::string_view trim(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  return text;
}

bool contains_ignoring_case(std::string_view text, std::string_view word) {
  auto const same = [](char a, char b) { return to_upper(a) == b; };
  return std::search(text.begin(), text.end(), word.begin(), word.end(), same) != text.end() ||
         word.empty();
}

bool same_ignoring_case(std::string_view a, std::string_view b) {
  return std::ranges::equal(a, b, {}, to_upper, to_upper);
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1), above(b.size() + 1), row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) above[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      std::size_t const replaced = above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({above[j] + 1, row[j - 1] + 1, replaced});
      bool const swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) row[j] = std::min(row[j], before[j - 2] + 1);
    }
    before.swap(above);
    above.swap(row);
  }
  return above[b.size()];
}

std::string nearest(std::string_view name, std::span<std::string const> names) {
  assert(!names.empty());
  return *std::ranges::min_element(
      names, {}, [&](std::string const& known) { return edit_distance(name, known); });
}

}  // namespace meltlag
