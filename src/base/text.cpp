// SPDX-License-Identifier: MIT
#include "meltlag/base/text.hpp"

#include <algorithm>

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

}  // namespace meltlag
