// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "meltlag/page/html.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/row_list.hpp"

namespace meltlag::page {

// A list; nothing where there are none.
void write_items(Out const& out, std::vector<std::string> const& items);

// Rows of a report as a table; `json_prefix` goes before the keys of its numbers.
[[nodiscard]] HtmlTable table_of(report::RowList const& list,
                                 std::string caption,
                                 std::string const& json_prefix = {});

}  // namespace meltlag::page
