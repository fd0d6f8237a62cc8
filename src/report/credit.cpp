// SPDX-License-Identifier: MIT
#include "meltlag/report/credit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

// Of what flow set right misplaces: less than that is no difference.
constexpr double rounding = 1e-3;

bool is_complete(MetricsTable const& table) {
  return table.flow_set_right && table.adapted && !table.parted;
}

std::string percent_of_speed(Overload const& overload) {
  return fmt::format("{:.0f} %", std::floor(100 * overload.speed_limit_share));
}

}  // namespace

std::string speed_text(double mm_s) {
  constexpr double coarse = 10;
  return mm_s >= coarse ? fmt::format("{:.0f} mm/s", std::floor(mm_s))
                        : fmt::format("{:.1f} mm/s", mm_s);
}

std::optional<Credit> credit_of(MetricsTable const& table) {
  double const sliced = table.as_sliced.misplaced_share();
  if (!is_complete(table) || sliced <= 0) return std::nullopt;
  double const right = table.flow_set_right->misplaced_share();
  Credit credit{.as_sliced = sliced,
                .flow_setting = sliced - right,
                .screw = right - table.adapted->misplaced_share() - table.saved_by_time.value_or(0),
                .time = table.saved_by_time,
                .left = table.adapted->misplaced_share()};
  bool const longer = table.adapted->path_s > (1 + rounding) * table.flow_set_right->path_s;
  credit.slower = longer && !credit.time;
  return credit;
}

bool better_than_flow_setting(MetricsTable const& table) {
  return is_complete(table) &&
         table.adapted->misplaced_mm3 < (1 - rounding) * table.flow_set_right->misplaced_mm3;
}

std::string verdict(MetricsTable const& table) {
  if (!is_complete(table) || table.as_sliced.wanted_mm3 <= 0) return {};
  double const right = table.flow_set_right->misplaced_share();
  double const after = table.adapted->misplaced_share();
  if (better_than_flow_setting(table))
    return fmt::format("Adapting takes away {:.0f} % of what is misplaced with the flow set right.",
                       100 * (right - after) / right);
  if (after <= (1 + rounding) * right)
    return "Adapting is not better than the slicer's flow setting: both misplace the same.";
  return fmt::format("Adapting is worse than the slicer's flow setting: {} against {}.",
                     percent(after),
                     percent(right));
}

std::string flow_setting_words(MetricsTable const& table) {
  if (!table.flow_set_right || table.delivered_factor == 1) return {};
  return fmt::format("Flow set right: as sliced, with the slicer's flow setting at {} %.",
                     number(100 / table.delivered_factor, 1));
}

std::optional<Overload> overload_of(MetricsTable const& table) {
  constexpr double worth_saying = 0.005;
  if (!table.flow_set_right || !table.max_flow_mm3_s) return std::nullopt;
  judge::PrintMetrics const& right = *table.flow_set_right;
  if (right.wanted_mm3 <= 0 || right.starved_mm3 <= worth_saying * right.wanted_mm3 ||
      right.peak_print_mm3_s <= *table.max_flow_mm3_s)
    return std::nullopt;
  return Overload{.asked_mm3_s = right.peak_print_mm3_s,
                  .fed_mm3_s = *table.max_flow_mm3_s,
                  .starved_share = right.starved_mm3 / right.wanted_mm3,
                  .first_line = right.starved_line,
                  .speed_limit_mm_s = right.fed_speed_mm_s,
                  .speed_limit_share = *table.max_flow_mm3_s / right.peak_print_mm3_s};
}

std::string headline(Overload const& overload) {
  return fmt::format(
      "Asks for more than the screw feeds{}: print at most {}.",
      overload.first_line > 0 ? fmt::format(" from line {} on", overload.first_line) : "",
      overload.speed_limit_mm_s > 0 ? speed_text(overload.speed_limit_mm_s)
                                    : percent_of_speed(overload));
}

std::string details(Overload const& overload) {
  return fmt::format(
      "Beads ask for up to {:.1f} mm³/s, the screw feeds {:.1f} for long: {} of the plastic is "
      "not fed. In the slicer{} scale all print speeds to {}.",
      overload.asked_mm3_s,
      overload.fed_mm3_s,
      percent(overload.starved_share),
      overload.speed_limit_mm_s > 0
          ? fmt::format(" limit all print speeds to {}, or", speed_text(overload.speed_limit_mm_s))
          : "",
      percent_of_speed(overload));
}

std::string opening(MetricsTable const& table) {
  auto const overload = overload_of(table);
  return overload ? headline(*overload) + "\n" + paragraph(details(*overload)) : "";
}

nlohmann::json to_json(Credit const& credit) {
  nlohmann::json out = {{"flow_setting_share", credit.flow_setting},
                        {"screw_share", credit.screw},
                        {"left_share", credit.left}};
  if (credit.time) out["time_share"] = *credit.time;
  return out;
}

nlohmann::json to_json(Overload const& overload) {
  return {{"asked_mm3_s", overload.asked_mm3_s},
          {"fed_mm3_s", overload.fed_mm3_s},
          {"starved_share", overload.starved_share},
          {"first_line", overload.first_line},
          {"speed_limit_mm_s", overload.speed_limit_mm_s},
          {"speed_limit_share", overload.speed_limit_share}};
}

}  // namespace meltlag::report
