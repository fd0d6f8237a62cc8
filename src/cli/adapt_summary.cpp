// SPDX-License-Identifier: MIT
#include "adapt_summary.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "judging.hpp"
#include "meltlag/page/trade_page.hpp"
#include "meltlag/profile/review.hpp"
#include "meltlag/report/credit.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"
#include "meltlag/report/tick_sheet.hpp"
#include "pacing.hpp"
#include "terminal.hpp"

namespace meltlag::cli {
namespace {

// For which share of the time the screw is at a limit: what the hardware cannot follow.
std::string limits_reached(adapt::LimitTimes const& times) {
  if (times.scheduled_s <= 0) return {};
  auto const share = [&](double seconds) { return report::percent(seconds / times.scheduled_s); };
  return "at limits, of the time       feed " + share(times.flow_forward_s) + ", backward " +
         share(times.reverse_s) + ", E jump " + share(times.jump_s) + "\n";
}

std::string lines_text(std::vector<adapt::LineRange> const& ranges) {
  constexpr std::size_t most = 5;
  std::string text;
  for (std::size_t i = 0; i < ranges.size() && i < most; ++i) {
    if (i > 0) text += ", ";
    text += std::to_string(ranges[i].first) + " to " + std::to_string(ranges[i].last);
  }
  return ranges.size() > most ? text + " and others" : text;
}

// Beads of next to no E: what a printer has to read.
std::string fine_words(adapt::EWords const& words) {
  constexpr double some = 0.01;
  auto const beads = static_cast<double>(words.beads), fine = static_cast<double>(words.fine_beads);
  if (fine <= some * beads) return {};
  return "E is written with up to " + std::to_string(words.most_decimals) + " decimals, as " +
         report::percent(fine / beads) +
         " of the beads turn it by less than 0.001. A printer that does not read so many rounds "
         "these beads, some to nothing: try it with a few lines. A smaller filament diameter in "
         "slicer and profile, the printer's steps per mm to match, makes E's numbers larger.";
}

// What a builder should know beside the figures, a sentence each.
std::vector<std::string> remarks(AdaptSummary const& summary) {
  std::vector<std::string> out;
  if (summary.job && summary.result.outcome == adapt::Outcome::adapted)
    out.push_back("Printed twice. Left: " + report::left_copy(*summary.job) + ", " +
                  report::percent(summary.result.pair->left_misplaced_share) +
                  " misplaced. Right: adapted, " +
                  report::percent(summary.result.pair->right_misplaced_share) +
                  " misplaced. The figures above are those of both together.");
  double const factor = summary.profile.feed.delivered_factor;
  if (factor != 1 && summary.result.outcome != adapt::Outcome::as_sliced) {
    out.push_back("The delivered factor of " + report::number(factor, 3) + " adds " +
                  report::number(100 * (1 / factor - 1), 1) +
                  " % to every E; leave it out of the slicer.");
  }
  if (!summary.result.e_doubt.empty())
    out.push_back("Look first whether E is right: " + summary.result.e_doubt + ".");
  double const print_c = summary.result.judgement.before.hottest_c;
  for (std::string& doubt : profile::lag_doubts(
           summary.profile, std::isnan(print_c) ? std::nullopt : std::optional(print_c)))
    out.push_back(std::move(doubt));
  if (!summary.profile.bounds.max_flow_mm3_s) {
    out.push_back("The screw is taken to feed " +
                  report::number(summary.result.info.supply.max_flow_mm3_s, 1) +
                  " mm³/s for long, the most that the beads ask for over one second, as "
                  "max_flow_mm3_s is not in the profile.");
  }
  if (std::string fine = fine_words(summary.result.info.e_words); !fine.empty())
    out.push_back(std::move(fine));
  if (!summary.result.set_right_lines.empty())
    out.push_back("Left as sliced with their flow set right, as a promise would not have held (" +
                  summary.result.broken_promise + "): lines " +
                  lines_text(summary.result.set_right_lines) + ".");
  out.emplace_back("The speed knob stays at 100 %: any other speed needs another adapted file.");
  return out;
}

report::MetricsTable table_of(AdaptSummary const& summary) {
  report::MetricsTable table = metrics_table(summary.result.judgement, summary.profile);
  bool const adapted = summary.result.outcome == adapt::Outcome::adapted;
  if (auto const& pace = summary.result.pace; adapted && pace && pace->price_mm3_per_s > 0)
    table.saved_by_time = pace->unpaced_share - pace->misplaced_share;
  return table;
}

char const* name_of(adapt::Outcome outcome) {
  switch (outcome) {
    case adapt::Outcome::adapted:
      return "adapted";
    case adapt::Outcome::flow_set_right:
      return "flow set right";
    case adapt::Outcome::as_sliced:
      return "as sliced";
    case adapt::Outcome::target_out_of_reach:
      break;  // not told: nothing was written
  }
  return "";
}

std::string nothing_gained(adapt::AdaptedFile const& result) {
  std::string const why = "Nothing to gain, because " + result.reason;
  if (result.outcome == adapt::Outcome::flow_set_right)
    return why +
           ". Every E is divided by the delivered factor, as the slicer's own flow setting would "
           "do.";
  if (result.outcome == adapt::Outcome::as_sliced)
    return why + ". Only the comment line was added.";
  return {};
}

std::string over_spread(adapt::SpreadFigures const& figures) {
  return report::percent(figures.least) + " to " + report::percent(figures.greatest) + ", " +
         report::percent(figures.mean) + " on average";
}

// The first lines: that nothing is gained and why, or that the file asks for too much.
std::string opening(adapt::AdaptedFile const& result, report::MetricsTable const& table) {
  std::string const nothing = nothing_gained(result);
  if (nothing.empty()) return report::opening(table);
  auto const overload = report::overload_of(table);
  return report::paragraph(nothing) +
         (overload ? report::paragraph(report::details(*overload)) : "");
}

}  // namespace

std::string to_text(AdaptSummary const& summary) {
  adapt::AdaptedFile const& result = summary.result;
  report::MetricsTable const table = table_of(summary);
  std::string text = opening(result, table);
  if (result.pace && result.outcome == adapt::Outcome::adapted) text += to_text(*result.pace);
  text += report::to_text(table);
  if (result.over_spread)
    text += "misplaced, by the lag's ±    " + over_spread(*result.over_spread) + "\n";
  text += limits_reached(result.info.limits);
  for (std::string const& remark : remarks(summary)) text += report::paragraph(remark);
  text = with_bold_line(text, main_row, Stream::err);
  auto const list = summary.notices.list();
  if (!list.empty()) text += "Noted, and not modelled where it says so:\n" + report::to_text(list);
  return text;
}

nlohmann::json to_json(AdaptSummary const& summary) {
  adapt::AdaptedFile const& result = summary.result;
  nlohmann::json out = report::to_json(table_of(summary));
  out["absorbed_moves"] = result.info.absorbed;
  out["max_flow_mm3_s"] = result.info.supply.max_flow_mm3_s;
  out["burst_mm3"] = result.info.supply.burst_mm3;
  out["limits_reached_s"] = {{"scheduled", result.info.limits.scheduled_s},
                             {"feeding_forward", result.info.limits.flow_forward_s},
                             {"backward", result.info.limits.reverse_s},
                             {"e_jump", result.info.limits.jump_s}};
  adapt::EWords const& words = result.info.e_words;
  out["e_words"] = {{"decimals", words.most_decimals},
                    {"rewritten_beads", words.beads},
                    {"beads_below_0.001", words.fine_beads},
                    {"counts_begun_anew", words.counts_anew}};
  out["outcome"] = name_of(result.outcome);
  if (!result.reason.empty()) out["nothing_to_gain_because"] = result.reason;
  if (summary.job) out["left_copy"] = report::left_copy(*summary.job);
  if (result.pair) {
    out["left_misplaced_share"] = result.pair->left_misplaced_share;
    out["right_misplaced_share"] = result.pair->right_misplaced_share;
  }
  if (result.pace) {
    out["pace"] = {{"added_s", result.pace->added_s},
                   {"extra_share", result.pace->extra_share},
                   {"unpaced_misplaced_share", result.pace->unpaced_share}};
  }
  if (result.over_spread) {
    out["misplaced_share_over_uncertainty"] = {{"least", result.over_spread->least},
                                               {"mean", result.over_spread->mean},
                                               {"greatest", result.over_spread->greatest}};
  }
  out["notices"] = report::to_json(summary.notices.list());
  return out;
}

void write_report(ReportFile& file, std::string const& name, AdaptSummary const& summary) {
  adapt::AdaptedFile const& result = summary.result;
  page::PathPage page = path_page("adapt", name, summary.profile);
  page.figures = table_of(summary);
  page.notices = summary.notices.list();
  page.nothing_gained = nothing_gained(result);
  if (result.pace && result.outcome == adapt::Outcome::adapted)
    page.remarks.push_back(to_text(*result.pace));
  if (result.over_spread)
    page.remarks.push_back("With the lag as uncertain as the profile says, misplaced plastic is " +
                           over_spread(*result.over_spread) + ".");
  adapt::LimitTimes const& times = result.info.limits;
  if (times.scheduled_s > 0) {
    auto const share = [&](double s) { return report::percent(s / times.scheduled_s); };
    page.remarks.push_back("The screw is at a limit of its own: feeding forward for " +
                           share(times.flow_forward_s) + " of the time, backward for " +
                           share(times.reverse_s) + ", at its greatest jump for " +
                           share(times.jump_s) + ". What is left over is mostly there.");
  }
  for (std::string& remark : remarks(summary)) page.remarks.push_back(std::move(remark));
  page::write_page(file.out(), page, *summary.path);
  file.finish();
}

void write_report(ReportFile& file,
                  std::string const& name,
                  profile::Profile const& profile,
                  adapt::TradeTable const& table) {
  page::write_page(
      file.out(),
      {.file = name,
       .version = MELTLAG_VERSION,
       .table = table,
       .cautions = {"Each row was adapted anew with that much more print time, and judged from the "
                    "emitted text by the profile's lag. A slower print stays hot for longer: look "
                    "at what the material bears."},
       .notices = {},
       .profile_title = profile.title,
       .profile_text = profile_text(profile.path)});
  file.commit();
}

}  // namespace meltlag::cli
