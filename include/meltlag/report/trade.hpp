// SPDX-License-Identifier: MIT
// Print time against misplaced plastic, as a table or JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/adapt/time_table.hpp"

namespace meltlag::report {

using adapt::TradeTable;

// The grant beyond which less than a tenth of all that time can buy is left; an index of `rows`.
[[nodiscard]] std::size_t where_it_stops_paying(TradeTable const& table);

// At most 80 columns, with a bar for what is misplaced.
[[nodiscard]] std::string to_text(TradeTable const& table);
[[nodiscard]] nlohmann::json to_json(TradeTable const& table);

// Where more time stops paying, in a sentence; empty for a table without grants.
[[nodiscard]] std::string where_it_ends(TradeTable const& table);

// Which grant it takes to be better than the slicer's flow setting, in a sentence; empty where none
// is needed.
[[nodiscard]] std::string where_it_beats_the_flow_setting(TradeTable const& table);

}  // namespace meltlag::report
