// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/report/row_list.hpp"

namespace meltlag::report {
namespace {

constexpr double least_change_s = 0.0005;  // rounded to milliseconds, nothing

std::vector<Cell> cells_of(ChangeRow const& row, std::string const& key, bool file) {
  melt::Change const& c = row.change;
  auto const change = c.lag_change_s == 0 ? Cell{}
                                          : Cell{fmt::format("{:+.0f} ms", 1000 * c.lag_change_s),
                                                 key + "lag_change_s"};
  std::vector<Cell> out = {{c.name},
                           {plus_minus(c.lag_s, 0), key + "lag_s"},
                           change,
                           {fmt::format("{:.0f}", c.mean_residence_s), key + "residence_s"},
                           {plus_minus(c.pressure_mpa, 0), key + "pressure_mpa"},
                           {fmt::format("{:.0f}", c.thrust_n), key + "thrust_n"}};
  if (!file) return out;
  out.push_back(row.misplaced_share
                    ? Cell{percent(*row.misplaced_share), key + "misplaced_share_as_sliced"}
                    : Cell{});
  return out;
}

}  // namespace

RowList change_rows(CausesPage const& page) {
  bool const file = page.now->misplaced_share.has_value();
  RowList list{.columns = {{"what if", "", 27, Align::left},
                           {"lag", "s", 7},
                           {"change", "", 8},
                           {"residence", "s", 9},
                           {"pressure", "MPa", 8},
                           {"thrust", "N", 6}},
               .rows = {cells_of(*page.now, "now.", file)}};
  if (file) list.columns.push_back({"misplaced", "as sliced", 9});
  std::vector<std::size_t> order(page.changes.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::ranges::stable_sort(
      order, {}, [&](std::size_t i) { return page.changes[i].change.lag_change_s; });
  for (std::size_t const i : order)
    list.rows.push_back(cells_of(page.changes[i], fmt::format("changes.{}.", i), file));
  return list;
}

std::vector<std::string> small_changes(CausesPage const& page) {
  std::vector<std::string> out;
  for (melt::Change const& change : page.small_changes)
    if (std::abs(change.lag_change_s) >= least_change_s)
      out.push_back(fmt::format("{}: lag {:+.0f} ms", change.name, 1000 * change.lag_change_s));
  return out;
}

}  // namespace meltlag::report
