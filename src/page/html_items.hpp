// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "meltlag/page/html.hpp"

namespace meltlag::page {

// The items that list_item() made, each as one line again; what lies between them is left out.
[[nodiscard]] std::vector<std::string> items_of(std::string_view text);
// A list; nothing where there are none.
void write_items(Out const& out, std::vector<std::string> const& items);

}  // namespace meltlag::page
