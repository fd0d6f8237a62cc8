// SPDX-License-Identifier: MIT
#include "meltlag/report/trade.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/credit.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

constexpr double longest_bar = 10;

std::string bar(double share, double longest_share) {
  if (longest_share <= 0) return {};
  auto const length = static_cast<std::size_t>(std::lround(longest_bar * share / longest_share));
  return std::string(std::min<std::size_t>(length, static_cast<std::size_t>(longest_bar)), '#');
}

std::vector<std::string> cells_of(std::string granted,
                                  std::string added,
                                  judge::PrintMetrics const& figure,
                                  double longest_share) {
  return {std::move(granted),
          std::move(added),
          duration(figure.planned_s),
          percent(figure.misplaced_share()),
          bar(figure.misplaced_share(), longest_share),
          fmt::format("{}", figure.blobs),
          fmt::format("{:.2f}", figure.blob_mean_mm3()),
          fmt::format("{}", figure.gaps),
          fmt::format("{:.1f}", figure.string_total_mm3)};
}

}  // namespace

std::size_t where_it_stops_paying(TradeTable const& table) {
  if (table.rows.empty()) return 0;
  constexpr double little = 0.1;
  double const first = table.rows.front().figure.misplaced_mm3;
  double const last = table.rows.back().figure.misplaced_mm3;
  std::size_t i = 0;
  while (i + 1 < table.rows.size() &&
         table.rows[i].figure.misplaced_mm3 - last > little * (first - last))
    ++i;
  return i;
}

std::string where_it_ends(TradeTable const& table) {
  if (table.rows.size() < 2) return {};
  std::size_t const at = where_it_stops_paying(table);
  if (at + 1 == table.rows.size()) return "More time still pays at the end of the table.";
  judge::PrintMetrics const& there = table.rows[at].figure;
  judge::PrintMetrics const& last = table.rows.back().figure;
  double const left = 100 * (there.misplaced_share() - last.misplaced_share());
  return fmt::format("Beyond +{:.0f} % little is left to gain: {:.1f} points in all.",
                     100 * table.rows[at].granted,
                     std::max(0.0, left));
}

std::string where_it_beats_the_flow_setting(TradeTable const& table) {
  for (adapt::TradeRow const& row : table.rows) {
    if (!better_than_flow_setting({.as_sliced = table.as_sliced,
                                   .flow_set_right = table.flow_set_right,
                                   .adapted = row.figure}))
      continue;
    if (&row == &table.rows.front()) return {};
    return fmt::format("It takes +{:.0f} % to be better than with the flow set right.",
                       100 * row.granted);
  }
  return table.rows.empty() ? "" : "No row is better than the file with its flow set right.";
}

std::string to_text(TradeTable const& table) {
  Table const columns({{"time", "granted", 14, Align::left},
                       {"added", "", 10, Align::right},
                       {"print", "time", 10, Align::right},
                       {"mis-", "placed", 7, Align::right},
                       {"", "", 10, Align::left},
                       {"blobs", "", 5, Align::right},
                       {"mean", "mm³", 5, Align::right},
                       {"gaps", "", 4, Align::right},
                       {"strings", "mm³", 7, Align::right}});
  double const longest =
      std::max(table.as_sliced.misplaced_share(), table.flow_set_right.misplaced_share());
  std::string text = columns.header();
  columns.append_row(text, cells_of("as sliced", "", table.as_sliced, longest));
  columns.append_row(text, cells_of("flow set right", "", table.flow_set_right, longest));
  for (adapt::TradeRow const& row : table.rows) {
    columns.append_row(text,
                       cells_of(fmt::format("+{:.0f} %", 100 * row.granted),
                                row.added_s > 0 ? duration(row.added_s) : "",
                                row.figure,
                                longest));
  }
  for (std::string const& words : {where_it_beats_the_flow_setting(table), where_it_ends(table)})
    if (!words.empty()) text += words + "\n";
  return text;
}

nlohmann::json to_json(TradeTable const& table) {
  nlohmann::json rows = nlohmann::json::array();
  for (adapt::TradeRow const& row : table.rows) {
    rows.push_back({{"granted_share", row.granted},
                    {"extra_share", row.extra},
                    {"added_s", row.added_s},
                    {"figure", to_json(row.figure)}});
  }
  nlohmann::json out = {{"as_sliced", to_json(table.as_sliced)},
                        {"flow_set_right", to_json(table.flow_set_right)},
                        {"rows", rows}};
  if (!table.rows.empty())
    out["little_left_beyond_share"] = table.rows[where_it_stops_paying(table)].granted;
  return out;
}

}  // namespace meltlag::report
