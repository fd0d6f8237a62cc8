// SPDX-License-Identifier: MIT
#include "html_items.hpp"

#include <fmt/format.h>

namespace meltlag::page {

void write_items(Out const& out, std::vector<std::string> const& items) {
  if (items.empty()) return;
  out("<ul class=\"items\">\n");
  for (std::string const& item : items) out(fmt::format("<li>{}</li>\n", escape_html(item)));
  out("</ul>\n");
}

HtmlTable table_of(report::RowList const& list,
                   std::string caption,
                   std::string const& json_prefix) {
  HtmlTable out{.caption = std::move(caption), .columns = {}, .rows = {}};
  for (report::Column const& column : list.columns)
    out.columns.push_back({column.name, column.unit, column.align});
  for (auto const& row : list.rows) {
    auto& cells = out.rows.emplace_back();
    for (report::Cell const& cell : row)
      cells.push_back({cell.text, cell.json.empty() ? "" : json_prefix + cell.json});
  }
  return out;
}

}  // namespace meltlag::page
