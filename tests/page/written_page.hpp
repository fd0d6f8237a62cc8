// SPDX-License-Identifier: MIT
// Pages as text.
#pragma once

#include <string>
#include <string_view>

#include "meltlag/page/html.hpp"

namespace meltlag_test {

template <class Page>
std::string page_text(Page const& page) {
  std::string text;
  meltlag::page::Out const out = [&](std::string_view piece) { text += piece; };
  write_page(out, page);
  return text;
}

inline std::size_t count(std::string const& text, std::string_view words) {
  std::size_t found = 0;
  for (std::size_t at = 0; (at = text.find(words, at)) != std::string::npos; at += words.size())
    ++found;
  return found;
}

}  // namespace meltlag_test
