// SPDX-License-Identifier: MIT
#include "meltlag/report/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

// Against the file as sliced.
std::string added(double seconds) {
  return (seconds < 0 ? "−" : "+") + duration(std::abs(seconds));
}

std::string flow_item(judge::SlicerSettings const& s) {
  if (s.flow_share == 1) return "Flow setting: leave it; what is asked for arrives.";
  return fmt::format("Flow setting: {} % of what it is now; misplaced {} → {}.",
                     number(100 * s.flow_share, 1),
                     percent(s.as_sliced.misplaced_share()),
                     percent(s.flow_set_right.misplaced_share()));
}

std::string stops_item(judge::SlicerSettings const& s) {
  if (s.stops == 0)
    return fmt::format(
        "It has no retracts. Switch them on in the slicer, {:.1f} mm for a beginning, slice anew "
        "and ask again: only then can it be said what they reach.",
        s.run_on_mm);
  if (!s.found)
    return "Retracts: leave them; no one length and restart extra is better than those it has.";
  return fmt::format(
      "Retract length {:.2f} mm (now {:.2f}), restart extra {:.2f} mm (now {:.2f}): misplaced {} → "
      "{}, strings {:.1f} → {:.1f} mm³, {}.",
      s.best.retract_mm,
      s.now.retract_mm,
      s.best.extra_mm,
      s.now.extra_mm,
      percent(s.flow_set_right.misplaced_share()),
      percent(s.advised.misplaced_share()),
      s.flow_set_right.string_total_mm3,
      s.advised.string_total_mm3,
      added(s.advised.planned_s - s.as_sliced.planned_s));
}

}  // namespace

std::string to_text(judge::SlicerSettings const& s) {
  if (!(s.as_sliced.wanted_mm3 > 0)) return "There are no beads to advise on.\n";
  std::string text = list_item(flow_item(s)) + list_item(stops_item(s));
  if (s.found)
    text += list_item(
        "Lengths are mm of E as the file says them; where the slicer's flow setting scales "
        "retracts too, enter them divided by it.");
  if (!s.whole)
    text +=
        list_item(fmt::format("Computed from a part of it, lines {} to {}; the figures are "
                              "those of that part.",
                              s.first_line,
                              s.last_line));
  return text;
}

nlohmann::json to_json(judge::SlicerSettings const& s) {
  nlohmann::json out = {{"flow_share", s.flow_share},
                        {"stops", s.stops},
                        {"run_on_mm", s.run_on_mm},
                        {"first_line", s.first_line},
                        {"last_line", s.last_line},
                        {"whole", s.whole},
                        {"as_sliced", to_json(s.as_sliced)},
                        {"flow_set_right", to_json(s.flow_set_right)},
                        {"advised", to_json(s.advised)}};
  if (s.stops > 0) out["now"] = {{"retract_mm", s.now.retract_mm}, {"extra_mm", s.now.extra_mm}};
  if (s.found) out["best"] = {{"retract_mm", s.best.retract_mm}, {"extra_mm", s.best.extra_mm}};
  return out;
}

namespace {

// The last word, which the reasons before it have to bear out.
std::string conclusion(adapt::Advice const& a, FlowAsked flow) {
  constexpr double many = 0.2;  // of the beads
  if (a.better_sliced_again()) return "Slicing again, slower, is the better answer.\n";
  std::string const adapting = a.trials.empty()
                                   ? "Adapt it as it is; "
                                   : "Adapting with that extra time places more than slicing "
                                     "all of it slower; ";
  if (flow == FlowAsked::above_it)
    return paragraph(
        adapting +
        "but what is above the screw's flow can only be taken out in the slicer: print "
        "those beads slower or thinner.");
  if (a.retracts == 0 && a.beads > 1)
    return paragraph(
        "Slice it again with retracts: while the head stands the screw can draw back, and the "
        "travels stay free of most strings; slower speeds do not do that.");
  if (static_cast<double>(a.short_beads) > many * static_cast<double>(a.beads))
    return paragraph(adapting +
                     "slicing again helps only with fewer, longer beads, not with slower ones.");
  return "There is no need to slice again for the lag's sake.\n";
}

}  // namespace

std::string to_text(adapt::Advice const& a, FlowAsked flow) {
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
  return text + conclusion(a, flow);
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
          {"retracts", a.retracts},
          {"lag_s", a.lag_s},
          {"speed_limits", trials},
          {"paced_added_s", a.paced_added_s},
          {"paced_misplaced_share", a.paced_share},
          {"better_sliced_again", a.better_sliced_again()}};
}

}  // namespace meltlag::report
