// SPDX-License-Identifier: MIT
#include "meltlag/report/calibration.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

#include "estimate.hpp"
#include "meltlag/report/table.hpp"
#include "picture_estimates.hpp"

namespace meltlag::report {
namespace {

using fit::Extra;
using fit::ExtraOutcome;
using fit::FitResult;
using fit::FlowLag;
using fit::RowOutcome;
using fit::RowVerdict;
using fit::Value;
using reading::ReadingKind;

constexpr double enough_share = 0.1;  // ± of the run-on that a schedule bears (tests/reference)
constexpr double enough_factor_sd = 0.015, enough_wander = 0.05;

// A quantity that cannot be negative: its logarithm is taken as normal.
std::string interval(Value const& value) {
  double const times = std::exp(two_sided_95 * value.sd / value.value);
  return range(value.value / times, value.value * times, value.sd);
}
std::string plain_interval(Value const& value) {
  double const off = two_sided_95 * value.sd;
  return range(value.value - off, value.value + off, value.sd);
}

std::string first_line(FitResult const& fit) {
  std::string lags;
  for (FlowLag const& lag : fit.at_flows)
    lags += fmt::format(
        "{}{} s at {}", lags.empty() ? "" : ", ", plus_minus(lag.lag_s), number(lag.flow_mm3_s, 1));
  return fmt::format("After a stop {} mm³ run on (from {} mm³/s); lag {} mm³/s.\n",
                     plus_minus(fit.run_on_mm3),
                     number(fit.law.at_flow_mm3_s, 2),
                     lags);
}

std::string estimates(FitResult const& fit) {
  Table const table(
      {{"", "", 28, Align::left}, {"estimate ±", "", 20}, {"95 of 100 within", "", 22}});
  std::string out = "\n" + table.header();
  out.erase(out.rfind('\n', out.size() - 2) + 1);  // no line of units: they stand with the names
  table.append_row(out,
                   {fmt::format("run-on at {} mm³/s, mm³", number(fit.law.at_flow_mm3_s, 2)),
                    plus_minus(fit.run_on_mm3),
                    interval(fit.run_on_mm3)});
  table.append_row(out, {"flow index", plus_minus(fit.flow_index), plain_interval(fit.flow_index)});
  for (FlowLag const& lag : fit.at_flows)
    table.append_row(out,
                     {fmt::format("lag at {} mm³/s, s", number(lag.flow_mm3_s, 1)),
                      plus_minus(lag.lag_s),
                      interval(lag.lag_s)});
  table.append_row(
      out, {"delivered factor", plus_minus(fit.delivered_factor), interval(fit.delivered_factor)});
  for (ExtraOutcome const& extra : fit.extras)
    if (extra.taken)
      table.append_row(
          out, {name_of(extra.extra), plus_minus(extra.value), plain_interval(extra.value)});
  return out;
}

std::string_view unit_words(Extra extra) {
  switch (extra) {
    case Extra::backlash:
      return "mm of E that turn without effect after each reversal";
    case Extra::reverse_factor:
      return "of what a forward stroke fills is relieved by a reverse one";
    case Extra::leak:
      return "of the run-on leak back each second";
    case Extra::creep:
      return "of the run-on are stored slowly (20 s assumed)";
    case Extra::pulsation:
      return "of the flow, up and down with each turn of the screw";
  }
  return "";
}

Sentences beyond_lag(FitResult const& fit) {
  Sentences out;
  std::string not_needed, not_shown;
  for (ExtraOutcome const& extra : fit.extras) {
    char const* const name = name_of(extra.extra);
    if (extra.taken)
      out.push_back(
          fmt::format("{}: {} {}. Without it readings like these would come about in "
                      "{} of 1000 cases.",
                      name,
                      plus_minus(extra.value),
                      unit_words(extra.extra),
                      fixed(1000 * extra.chance, 1)));
    else if (extra.tried)
      not_needed += fmt::format("{}{}", not_needed.empty() ? "" : ", ", name);
    else
      not_shown += fmt::format("{}{}", not_shown.empty() ? "" : ", ", name);
  }
  if (!not_needed.empty()) out.push_back("The readings do not ask for: " + not_needed + ".");
  if (!not_shown.empty())
    out.push_back("Known already, or not shown by this print: " + not_shown + ".");
  return out;
}

std::string row_text(RowOutcome const& row) {
  std::string const unit = row.kind == ReadingKind::mass ? "g" : "mm";
  std::string const where =
      row.kind == ReadingKind::mass
          ? std::string{name_of(row.kind)}
          : fmt::format(
                "{} at {} mm of trace {}", name_of(row.kind), number(row.ruler_mm, 0), row.trace);
  return fmt::format("row {}, {}: measured {} {}, the fit says {} ± {}",
                     row.row,
                     where,
                     number(row.measured, 2),
                     unit,
                     fixed(row.predicted, 2),
                     fixed(row.sd, 2));
}

Sentences doubtful_rows(FitResult const& fit) {
  Sentences out;
  std::string thin;
  for (RowOutcome const& row : fit.rows) {
    if (row.thin) thin += fmt::format("{}{}", thin.empty() ? "" : ", ", row.row);
    if (row.verdict == RowVerdict::queried)
      out.push_back(row_text(row) +
                    ". No plausible machine gives that: wrong trace or place, or a slip of the "
                    "pen? Hardly counted.");
    if (row.verdict == RowVerdict::looks_wrong)
      out.push_back(row_text(row) + ". Measure it again; hardly counted.");
    if (row.verdict == RowVerdict::feed_trouble)
      out.push_back(row_text(row) +
                    ". Too thin, and its copies are not: that is the hopper, not the lag. Left "
                    "out.");
  }
  if (!thin.empty())
    out.push_back(
        fmt::format("Thinner than a layer is high, so counted with twice the error: {} {}.",
                    thin.find(',') == std::string::npos ? "row" : "rows",
                    thin));
  return out;
}

std::string drift(FitResult const& fit) {
  if (!fit.drift_known)
    return "Drift from start to end of the piece is not known: it takes two readings on "
           "first and two on last copies.";
  std::string const amount =
      fmt::format("{} ± {} %", fixed(100 * fit.drift.value, 1), fixed(100 * fit.drift.sd, 1));
  bool const drifts = std::abs(fit.drift.value) > two_sided_95 * fit.drift.sd;
  return fmt::format("Width from the first copies to the last: {}. {}",
                     amount,
                     drifts ? "The feed drifts: see to hopper and heat, then print again."
                            : "No drift beyond what measuring scatters.");
}

Sentences how_sure(FitResult const& fit) {
  Sentences out;
  for (std::string const& name : fit.not_determined)
    out.push_back(fmt::format(
        "The {} is not determined by these readings: its ± is what was plausible beforehand.",
        name));
  if (fit.dense) {
    Sentences more = picture_findings(fit);
    std::ranges::move(more, std::back_inserter(out));
    return out;
  }
  if (fit.scatter > 1.3)
    out.push_back(
        fmt::format("The readings scatter {} times as much as calipers do; every ± above is "
                    "that much wider.",
                    fixed(fit.scatter, 1)));
  out.push_back(drift(fit));
  double const share = fit.run_on_mm3.sd / fit.run_on_mm3.value;
  if (fit.readings_for_ten_percent == 0)
    out.push_back(fmt::format("Enough: the run-on is known to ± {} %.", fixed(100 * share, 0)));
  else
    out.push_back(
        fmt::format("The run-on is known to ± {} %. Some {} more readings like these would make it "
                    "± 10 %, some {} more would halve it.",
                    fixed(100 * share, 0),
                    fit.readings_for_ten_percent,
                    3 * fit.readings));
  return out;
}

std::string details_of(FitResult const& fit) {
  std::string out = "\nEvery reading\n";
  Table const table({{"row", "", 4},
                     {"trace", "", 6},
                     {"ruler", "mm", 6},
                     {"kind", "", 14, Align::left},
                     {"measured", "mm, g", 9},
                     {"fit", "mm, g", 9},
                     {"±", "mm, g", 7},
                     {"off by", "±", 7},
                     {"counted", "", 7}});
  out += table.header();
  for (RowOutcome const& row : fit.rows)
    table.append_row(out,
                     {std::to_string(row.row),
                      row.trace,
                      number(row.ruler_mm, 0),
                      std::string{name_of(row.kind)},
                      fixed(row.measured, 3),
                      fixed(row.predicted, 3),
                      fixed(row.sd, 3),
                      fixed((row.measured - row.predicted) / row.sd, 2),
                      fixed(row.counted, 2)});
  out += "\nLayer heights\n";
  for (fit::TraceHeight const& height : fit.heights)
    out += list_item(fmt::format("trace {}: {} mm", height.trace, plus_minus(height.height_mm)));
  out +=
      fmt::format("\nScatter {} of what was assumed, {} readings, {} unknowns besides heights.\n",
                  fixed(fit.scatter, 2),
                  fit.readings,
                  fit.free_parameters);
  if (fit.correlations.empty()) return out + "No two unknowns are correlated by more than 0.8.\n";
  return out + "Correlations above 0.8:\n" + item_list(fit.correlations);
}

std::string_view word_of(RowVerdict verdict) {
  switch (verdict) {
    case RowVerdict::fine:
      return "fine";
    case RowVerdict::queried:
      return "queried";
    case RowVerdict::looks_wrong:
      return "looks wrong";
    case RowVerdict::feed_trouble:
      return "feed trouble";
  }
  return "";
}

nlohmann::json json_of(ExtraOutcome const& extra) {
  nlohmann::json out{{"name", name_of(extra.extra)},
                     {"taken", extra.taken},
                     {"tried", extra.tried},
                     {"chance", extra.chance}};
  if (extra.taken) out["estimate"] = estimate_json(extra.value);
  return out;
}

nlohmann::json json_of(RowOutcome const& row) {
  return {{"row", row.row},
          {"trace", row.trace},
          {"ruler_mm", row.ruler_mm},
          {"kind", name_of(row.kind)},
          {"measured", row.measured},
          {"predicted", row.predicted},
          {"sd", row.sd},
          {"counted", row.counted},
          {"verdict", word_of(row.verdict)}};
}

}  // namespace

std::vector<Section> findings(FitResult const& fit) {
  std::vector<Section> out = {{"Beyond the lag", beyond_lag(fit)},
                              {"Readings to look at", doubtful_rows(fit)},
                              {"How sure it is", how_sure(fit)}};
  if (fit.dense && fit.dense->bursts)
    out.push_back({"What the screw can do", screw_findings(*fit.dense->bursts)});
  std::erase_if(out, [](Section const& section) { return section.sentences.empty(); });
  return out;
}

std::string to_text(FitResult const& fit, Details details) {
  std::string out = first_line(fit) + estimates(fit);
  for (Section const& section : findings(fit))
    out += fmt::format("\n{}\n{}", section.heading, item_list(section.sentences));
  if (details == Details::shown) out += details_of(fit);
  return out;
}

nlohmann::json to_json(FitResult const& fit) {
  nlohmann::json out{{"run_on_mm3", estimate_json(fit.run_on_mm3)},
                     {"at_flow_mm3_s", fit.law.at_flow_mm3_s},
                     {"flow_index", estimate_json(fit.flow_index)},
                     {"run_on_index_correlation", fit.run_on_index_correlation},
                     {"delivered_factor", estimate_json(fit.delivered_factor)},
                     {"scatter", fit.scatter},
                     {"readings", fit.readings},
                     {"not_determined", fit.not_determined},
                     {"more_readings_for_10_percent", fit.readings_for_ten_percent}};
  for (FlowLag const& lag : fit.at_flows)
    out["lag"].push_back({{"flow_mm3_s", lag.flow_mm3_s},
                          {"run_on_mm3", estimate_json(lag.run_on_mm3)},
                          {"lag_s", estimate_json(lag.lag_s)}});
  for (ExtraOutcome const& extra : fit.extras) out["beyond_the_lag"].push_back(json_of(extra));
  for (RowOutcome const& row : fit.rows) out["rows"].push_back(json_of(row));
  for (fit::TraceHeight const& height : fit.heights)
    out["layer_heights"].push_back(
        {{"trace", height.trace}, {"mm", estimate_json(height.height_mm)}});
  if (fit.dense) out["picture"] = picture_json(*fit.dense);
  if (fit.drift_known) out["drift_share"] = estimate_json(fit.drift);
  return out;
}

std::vector<std::string> next_measurements(FitResult const& fit) {
  std::vector<std::string> out;
  double const share = fit.run_on_mm3.sd / fit.run_on_mm3.value;
  bool const enough = share <= enough_share && fit.not_determined.empty();
  out.push_back(
      fmt::format("The run-on is known to ± {}: {}.",
                  percent(share),
                  enough ? "enough to adapt files with" : "what follows would make it better"));
  std::string again;
  for (RowOutcome const& row : fit.rows)
    if (row.verdict != RowVerdict::fine)
      again += fmt::format("{}{}", again.empty() ? "" : ", ", row.row);
  if (!again.empty()) out.push_back(fmt::format("Measure again: row {}.", again));
  for (std::string const& name : fit.not_determined)
    out.push_back(
        fmt::format("The {} is not determined: read the run-outs and the largest steps, "
                    "or print a piece with a greater range of speeds.",
                    name));
  if (fit.dense && !enough)
    out.emplace_back(
        "Print another piece with another --seed: two pictures make every ± a third smaller.");
  if (!fit.dense && fit.readings_for_ten_percent > 0)
    out.push_back(fmt::format(
        "Some {} more readings make it ± 10 %: take the next rows of the sheet, which stand in the "
        "order of their worth. A picture of the ring piece reads thousands at once.",
        fit.readings_for_ten_percent));
  if (fit.delivered_factor.sd > enough_factor_sd * fit.delivered_factor.value)
    out.push_back(
        fmt::format("Weigh cups (calibrate feed): the delivered factor is known to ± {}, "
                    "which goes straight into every bead.",
                    percent(fit.delivered_factor.sd / fit.delivered_factor.value)));
  if (fit.dense && fit.dense->wander_share > enough_wander)
    out.push_back(
        fmt::format("See to hopper and heat: the feed wanders by {}, and that is more "
                    "than a schedule can win back.",
                    percent(fit.dense->wander_share)));
  if (!fit.dense && !fit.drift_known)
    out.emplace_back("Read two places each on first and last copies: they tell a drift.");
  return out;
}

std::string to_text(fit::ReadingPlan const& plan) {
  Table const table({{"a machine with", "", 34, Align::left},
                     {"run-on", "mm³", 12},
                     {"lag", "s", 14},
                     {"flow index", "", 12}});
  std::string out =
      fmt::format("Expected from the first {} rows of the sheet, each ±:\n", plan.chosen);
  out += table.header();
  for (fit::ExpectedPrecision const& one : plan.expected)
    table.append_row(
        out,
        {fmt::format(
             "{} mm³ of run-on at {} mm³/s", number(one.run_on_mm3, 1), number(one.flow_mm3_s, 1)),
         fmt::format("± {}", fixed(one.run_on_sd_mm3, 2)),
         fmt::format("{} ± {}", fixed(one.lag_s, 3), fixed(one.lag_sd_s, 3)),
         fmt::format("± {}", fixed(one.flow_index_sd, 2))});
  return out;
}

}  // namespace meltlag::report
