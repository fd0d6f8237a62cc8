// SPDX-License-Identifier: MIT
#include "html_items.hpp"

#include <fmt/format.h>

namespace meltlag::page {

std::vector<std::string> items_of(std::string_view text) {
  std::vector<std::string> items;
  bool inside = false;
  while (!text.empty()) {
    std::size_t const end = std::min(text.find('\n'), text.size());
    std::string_view const line = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    if (line.starts_with("- ")) {
      items.emplace_back(line.substr(2));
      inside = true;
    } else if (inside && line.starts_with("  ")) {
      items.back() += line.substr(1);
    } else {
      inside = false;
    }
  }
  return items;
}

void write_items(Out const& out, std::vector<std::string> const& items) {
  if (items.empty()) return;
  out("<ul class=\"items\">\n");
  for (std::string const& item : items) out(fmt::format("<li>{}</li>\n", escape_html(item)));
  out("</ul>\n");
}

}  // namespace meltlag::page
