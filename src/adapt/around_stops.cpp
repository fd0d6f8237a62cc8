// SPDX-License-Identifier: MIT
#include "around_stops.hpp"

#include <algorithm>

#include "speed_profile.hpp"

namespace meltlag::adapt {

bool is_stop(PlannedMove const& record) {
  return record.move.kind == gcode::MoveKind::e_only &&
         record.extrusion != ExtrusionPolicy::absorbed;
}

std::vector<RecordRange> around_stops(std::span<PlannedMove* const> records, double reach_s) {
  std::vector<double> begin_s;
  double time_s = 0;
  for (PlannedMove const* record : records) {
    begin_s.push_back(time_s);
    time_s += time_of(*record);
  }
  auto const first_from = [&](double s) {
    return static_cast<std::size_t>(std::ranges::lower_bound(begin_s, s) - begin_s.begin());
  };
  std::vector<RecordRange> out;
  for (std::size_t m = 0; m < records.size(); ++m) {
    if (!is_stop(*records[m])) continue;
    std::size_t const before = first_from(begin_s[m] - reach_s);
    std::size_t const begin = before > 0 ? before - 1 : 0;
    std::size_t const end = std::max(m + 1, first_from(begin_s[m] + reach_s));
    if (!out.empty() && begin <= out.back().end) {
      out.back().end = std::max(out.back().end, end);
    } else {
      out.push_back({begin, end});
    }
  }
  return out;
}

}  // namespace meltlag::adapt
