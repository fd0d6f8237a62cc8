// SPDX-License-Identifier: MIT
// The page of `adapt --time-table`.
#pragma once

#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/report/trade.hpp"

namespace meltlag::page {

struct TradePage {
  std::string file, version;
  report::TradeTable table;
  std::vector<std::string> cautions;  // what the figures leave out
  std::vector<Notice> notices;
  std::string profile_title, profile_text;
};
void write_page(Out const& out, TradePage const& page);

}  // namespace meltlag::page
