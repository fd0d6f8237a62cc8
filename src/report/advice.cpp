// SPDX-License-Identifier: MIT
#include "meltlag/report/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

// Against the file as sliced.
std::string added(double seconds) {
  return (seconds < 0 ? "−" : "+") + duration(std::abs(seconds));
}

}  // namespace

std::string to_text(adapt::Advice const& a) {
  if (a.beads == 0) return "There are no beads to advise on.\n";
  std::string text = list_item(
      fmt::format("Adapted as it is: {} of the plastic misplaced.", percent(a.misplaced_share)));
  if (!a.trials.empty()) {
    auto const& trial = a.trials[a.chosen];
    text += list_item(fmt::format("All print speeds to {:.0f} mm/s: {}, misplaced {} → {}.",
                                  trial.most_print_mm_s,
                                  added(trial.added_s),
                                  percent(a.misplaced_share),
                                  percent(trial.misplaced_share)));
    text += list_item(
        fmt::format("adapt --extra-time {:.0f}%, slower only where it buys most: {}, misplaced {}.",
                    std::ceil(100 * std::max(0.0, trial.added_s) / a.as_sliced_s),
                    added(a.paced_added_s),
                    percent(a.paced_share)));
  }
  if (a.short_beads > 0) {
    text += list_item(
        fmt::format("{} of {} beads between stops are shorter than your lag ({:.2f} s at {:.1f} "
                    "mm³/s): fewer, longer beads are what helps there.",
                    a.short_beads,
                    a.beads,
                    a.lag_s,
                    a.mean_flow_mm3_s));
  }
  constexpr double worth_saying = 0.02;
  if (a.feed_limited_share > worth_saying) {
    text +=
        list_item(fmt::format("For {} of the time the screw feeds all it can: the file asks "
                              "for more than the machine has.",
                              percent(a.feed_limited_share)));
  }
  text += a.better_sliced_again() ? "Slicing again, slower, is the better answer.\n"
                                  : "There is no need to slice again for the lag's sake.\n";
  return text;
}

nlohmann::json to_json(adapt::Advice const& a) {
  nlohmann::json trials = nlohmann::json::array();
  for (auto const& t : a.trials) {
    trials.push_back({{"most_print_mm_s", t.most_print_mm_s},
                      {"added_s", t.added_s},
                      {"misplaced_share", t.misplaced_share}});
  }
  return {{"as_sliced_s", a.as_sliced_s},
          {"path_s", a.path_s},
          {"misplaced_share", a.misplaced_share},
          {"feed_limited_share", a.feed_limited_share},
          {"beads", a.beads},
          {"short_beads", a.short_beads},
          {"lag_s", a.lag_s},
          {"speed_limits", trials},
          {"paced_added_s", a.paced_added_s},
          {"paced_misplaced_share", a.paced_share},
          {"better_sliced_again", a.better_sliced_again()}};
}

}  // namespace meltlag::report
