// SPDX-License-Identifier: MIT
// What more print time buys: a file adapted anew for each grant, and judged.
#pragma once

#include <string>
#include <vector>

#include "meltlag/adapt/adapt_options.hpp"
#include "meltlag/judge/print_metrics.hpp"

namespace meltlag::adapt {

// What came of one grant of time.
struct TradeRow {
  double granted = 0;  // share of the time as sliced
  double extra = 0;    // so much more than as sliced is taken; below 0: sooner done
  double added_s = 0;  // the same in s
  judge::PrintMetrics figure;
};

struct TradeTable {
  judge::PrintMetrics as_sliced;
  judge::PrintMetrics flow_set_right;
  std::vector<TradeRow> rows;  // by `granted`, the first without any
};

// Keeps every promise of adapt_file() in each row, and writes nothing. Throws as it does.
[[nodiscard]] TradeTable time_table(std::string const& path, AdaptOptions const& options);

}  // namespace meltlag::adapt
