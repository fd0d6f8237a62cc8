// SPDX-License-Identifier: MIT
#include "meltlag/report/metrics.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "meltlag/base/vec.hpp"
#include "meltlag/report/credit.hpp"
#include "meltlag/report/metrics_rows.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using judge::PrintMetrics;
using nlohmann::json;

// Where the plastic that is misplaced as sliced goes, in points of what is wanted.
std::string credit_line(Credit const& credit) {
  auto const points = [](double share) { return fixed(100 * share, 1); };
  std::string text = fmt::format("points taken off misplaced   flow setting {}, screw {}",
                                 points(credit.flow_setting),
                                 points(credit.screw));
  if (credit.time) text += ", time " + points(*credit.time);
  return text + "; left " + points(credit.left) + "\n";
}

}  // namespace

std::string to_text(MetricsTable const& table) {
  constexpr int name_width = 28, column_width = 16;
  Table const lines{{{"", "", name_width, Align::left},
                     {"", "", column_width, Align::left},
                     {"", "", column_width, Align::left},
                     {"", "", column_width, Align::left}}};
  std::string text;
  std::vector<std::string> heads{"", "as sliced"};
  if (table.flow_set_right) heads.emplace_back("flow set right");
  if (table.adapted) heads.emplace_back("adapted");
  if (heads.size() > 2) lines.append_row(text, heads);
  for (MetricsRow const& row : metrics_rows(table)) {
    if (row.on == On::page) continue;
    std::vector<std::string> cells{row.name};
    cells.insert(cells.end(), row.values.begin(), row.values.end());
    lines.append_row(text, cells);
  }
  if (auto const credit = credit_of(table)) text += credit_line(*credit);
  if (std::string const words = verdict(table); !words.empty()) text += words + "\n";
  if (std::string const words = flow_setting_words(table); !words.empty()) text += words + "\n";
  return text;
}

json to_json(PrintMetrics const& f) {
  return {{"misplaced_share", f.misplaced_share()},
          {"bead_error_share", f.bead_error()},
          {"bead_error_largest_share", f.bead_error_largest},
          {"wanted_mm3", f.wanted_mm3},
          {"misplaced_mm3", f.misplaced_mm3},
          {"uncounted_mm3", f.uncounted_mm3},
          {"stops", f.stops},
          {"blobs", f.blobs},
          {"blob_mean_mm3", f.blob_mean_mm3()},
          {"blob_mean_ball_mm", ball_diameter(f.blob_mean_mm3())},
          {"blob_largest_mm3", f.blob_largest_mm3},
          {"starts", f.starts},
          {"gaps", f.gaps},
          {"gap_mean_mm", f.gap_mean_mm()},
          {"gap_largest_mm", f.gap_largest_mm},
          {"strings", f.strings},
          {"string_total_mm3", f.string_total_mm3},
          {"string_largest_mm3", f.string_largest_mm3},
          {"string_longest_mm", f.string_longest_mm},
          {"starved_mm3", f.starved_mm3},
          {"starved_first_line", f.starved_line},
          {"starved_kept_mm3", f.starved_kept_mm3},
          {"fed_speed_mm_s", f.fed_speed_mm_s},
          {"planned_s", f.planned_s},
          {"path_s", f.path_s},
          {"e_only_s", f.e_only_s},
          {"lines", f.lines},
          {"moves", f.moves},
          {"peak_lines_per_s", f.peak_lines_per_s},
          {"peak_forward_mm3_s", f.peak_forward_mm3_s},
          {"peak_print_mm3_s", f.peak_print_mm3_s},
          {"peak_e_mm_s", f.peak_e_mm_s},
          {"peak_run_on_mm3", f.peak_run_on_mm3},
          {"run_on_end_mm3", f.run_on_end_mm3}};
}

json to_json(MetricsTable const& table) {
  auto const figure = [&](PrintMetrics const& f) {
    json out = to_json(f);
    if (table.parts) {
      double const p = melt::pressure_at_run_on_mpa(*table.parts, f.peak_run_on_mm3);
      out["peak_pressure_mpa"] = p;
      out["peak_thrust_n"] = p * table.parts->area.bore_mm2;
    }
    return out;
  };
  json out = {{"as_sliced", figure(table.as_sliced)}};
  if (table.flow_set_right) out["flow_set_right"] = figure(*table.flow_set_right);
  if (table.adapted) out["adapted"] = figure(*table.adapted);
  if (auto const credit = credit_of(table)) out["misplaced_shares"] = to_json(*credit);
  if (table.adapted && table.flow_set_right && !table.parted)
    out["better_than_flow_set_right"] = better_than_flow_setting(table);
  if (auto const overload = overload_of(table)) out["asks_for_too_much"] = to_json(*overload);
  return out;
}

std::string to_text(std::vector<Notice> const& notices) {
  std::string out;
  for (Notice const& notice : notices) {
    std::string text = notice.text;
    if (!notice.lines.empty() && notice.count > 1) {
      text += fmt::format(" ({} times, first in line {})", notice.count, notice.lines[0]);
    } else if (!notice.lines.empty()) {
      text += fmt::format(" (line {})", notice.lines[0]);
    }
    out += list_item(text);
  }
  return out;
}

json to_json(std::vector<Notice> const& notices) {
  json out = json::array();
  for (Notice const& notice : notices) {
    out.push_back({{"text", notice.text}, {"count", notice.count}, {"lines", notice.lines}});
  }
  return out;
}

std::string dump(json const& value) {
  return value.dump(2, ' ', false, json::error_handler_t::replace) + '\n';
}

}  // namespace meltlag::report
