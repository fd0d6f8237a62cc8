// SPDX-License-Identifier: MIT
// Print time against misplaced plastic, as a table or JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "meltlag/adapt/figure.hpp"

namespace meltlag::report {

// What came of one grant of time.
struct TradeRow {
  double granted = 0;  // share of the time without pace
  double extra = 0;    // of which so much is spent
  double added_s = 0;
  adapt::Figure figure;
};

struct TradeTable {
  adapt::Figure as_sliced;
  std::vector<TradeRow> rows;  // by `granted`, the first without any
};

// The grant beyond which less than a tenth of all that time can buy is left; an index of `rows`.
[[nodiscard]] std::size_t where_it_stops_paying(TradeTable const& table);

// At most 80 columns, with a bar for what is misplaced.
[[nodiscard]] std::string to_text(TradeTable const& table);
[[nodiscard]] nlohmann::json to_json(TradeTable const& table);

}  // namespace meltlag::report
