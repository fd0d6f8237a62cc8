// SPDX-License-Identifier: MIT
#include "adapt_summary.hpp"

#include <nlohmann/json.hpp>

#include "meltlag/report/figures.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::cli {
namespace {

// For which share of the time the screw is at a limit: what the hardware cannot follow.
std::string limits_reached(adapt::LimitTimes const& times) {
  if (times.scheduled_s <= 0) return {};
  auto const share = [&](double seconds) { return report::percent(seconds / times.scheduled_s); };
  return "at limits, of the time       feed " + share(times.flow_forward_s) + ", backward " +
         share(times.reverse_s) + ", E jump " + share(times.jump_s) + "\n";
}

}  // namespace

std::string to_text(AdaptSummary const& summary) {
  auto const& [profile, result, notices, pace, spread] = summary;
  adapt::Figure const& before = result.judgement.before;
  adapt::Figure const& after = result.judgement.after;
  report::FigureTable const table{
      .as_sliced = before, .adapted = after, .parts = profile::parts_lag(profile)};
  std::string text;
  if (before.wanted_mm3 <= 0) {
    text += "The file extrudes nothing while the head moves: only the comment line was added.\n";
  } else if (result.info.left_as_it_was) {
    text += "Nothing to gain: only the comment line was added.\n";
  }
  text += report::to_text(table);
  if (spread) text += to_text(*spread);
  text += limits_reached(result.info.limits);
  double const factor = profile.feed.delivered_factor;
  if (factor != 1) {
    text += "The delivered factor of " + report::number(factor, 3) + " adds " +
            report::number(100 * (1 / factor - 1), 1) +
            " % to every E; leave it out of the slicer.\n";
  }
  if (!profile.bounds.max_flow_mm3_s) {
    text += "Forward flow kept to " + report::number(result.info.max_flow_mm3_s, 1) +
            " mm³/s, 1.2 × what the file asks for, as max_flow_mm3_s is not in the profile.\n";
  }
  text += "The speed knob stays at 100 %: any other speed needs another adapted file.\n";
  auto const list = notices.list();
  if (!list.empty()) text += "Noted, and not modelled where it says so:\n" + report::to_text(list);
  return text;
}

nlohmann::json to_json(AdaptSummary const& summary) {
  Emitted const& result = summary.result;
  report::FigureTable const table{.as_sliced = result.judgement.before,
                                  .adapted = result.judgement.after,
                                  .parts = profile::parts_lag(summary.profile)};
  nlohmann::json out = report::to_json(table);
  out["absorbed_moves"] = result.info.absorbed;
  out["max_flow_mm3_s"] = result.info.max_flow_mm3_s;
  out["limits_reached_s"] = {{"scheduled", result.info.limits.scheduled_s},
                             {"feeding_forward", result.info.limits.flow_forward_s},
                             {"backward", result.info.limits.reverse_s},
                             {"e_jump", result.info.limits.jump_s}};
  out["left_as_it_was"] = result.info.left_as_it_was;
  if (summary.pace) {
    out["pace"] = {{"added_s", summary.pace->added_s},
                   {"extra_share", summary.pace->extra_share},
                   {"unpaced_misplaced_share", summary.pace->unpaced_share}};
  }
  if (summary.spread) {
    out["misplaced_share_over_uncertainty"] = {{"least", summary.spread->least},
                                               {"mean", summary.spread->mean},
                                               {"greatest", summary.spread->greatest}};
  }
  out["notices"] = report::to_json(summary.notices.list());
  return out;
}

}  // namespace meltlag::cli
