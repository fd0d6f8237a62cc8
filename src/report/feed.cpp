// SPDX-License-Identifier: MIT
#include "meltlag/report/feed.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using calibrate::FeedLevel;
using calibrate::FeedVerdict;
using calibrate::FlowShare;
using calibrate::ScrewLimits;
using calibrate::significant_p;
using nlohmann::json;

std::string share(double value) { return fmt::format("{:.1f} %", 100 * value); }

// A factor rounded where its uncertainty begins.
std::string factor(double value, double plus_minus) {
  return fmt::format("{:.3f} ± {:.3f}", value, plus_minus);
}

std::string headline(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  constexpr char const* words[] = {
      "Even enough", "Borderline", "The feed wanders, repair the hopper first"};
  std::string text = fmt::format(
      "{}: cups differ by {}", words[static_cast<std::size_t>(v.level)], share(v.own_scatter));
  bool const drifts = v.drift_test.p < significant_p;
  if (drifts) text += fmt::format(" and drift by {}", share(std::abs(v.drift)));
  return text + fmt::format(".\nCalipers on a bead of {:g} mm resolve {}.\n",
                            table.options.bead_width_mm,
                            share(v.resolved));
}

std::string figures(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text =
      fmt::format("Delivered factor   {}\n", factor(v.delivered_factor, v.plus_minus));
  text += fmt::format("Cup to cup         {} ({:.1f} to {:.1f}); the scale's steps make {}\n",
                      share(v.scatter),
                      100 * v.scatter_low,
                      100 * v.scatter_high,
                      share(v.scale_scatter));
  text += fmt::format("Drift over the run {:+.1f} % ± {:.1f} %, {}\n",
                      100 * v.drift,
                      100 * v.drift_plus_minus,
                      v.drift_test.p < significant_p ? "more than chance" : "no more than chance");
  if (v.flows.size() > 1)
    text += fmt::format("Between flows      {}, {}\n",
                        share(v.flow_spread / v.delivered_factor),
                        v.flow_test.p < significant_p ? "more than chance" : "no more than chance");
  return text;
}

std::string flow_rows(FeedTable const& table) {
  Table rows({{"flow", "mm³/s", 7},
              {"cups", "", 5},
              {"delivered", "factor", 10},
              {"±", "", 7},
              {"scatter", "%", 8},
              {"scale", "%", 7}});
  std::string text = rows.header();
  for (FlowShare const& flow : table.verdict.flows)
    rows.append_row(text,
                    {number(flow.flow_mm3_s, 3),
                     std::to_string(flow.cups),
                     fixed(flow.delivered_factor, 3),
                     fixed(flow.plus_minus, 3),
                     fixed(100 * flow.scatter, 1),
                     fixed(100 * flow.scale_scatter, 1)});
  return text;
}

std::vector<std::string> odd_cups(FeedVerdict const& v) {
  std::vector<std::string> lines;
  for (calibrate::OddCup const& odd : v.odd_cups)
    lines.push_back(
        fmt::format("Cup {} ({:g} mm³/s, {:g} g) holds {:.0f} % of what its neighbours suggest: "
                    "a slip in weighing, or a hiccup of the feed? It is left out.",
                    odd.reading.number,
                    odd.reading.flow_mm3_s,
                    odd.reading.mass_g,
                    100 * odd.share / odd.expected));
  if (v.odd_cups.size() > 1)
    lines.push_back("Several such cups mean hiccups rather than slips: look at the hopper.");
  return lines;
}

std::vector<std::string> reasons(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::vector<std::string> lines = odd_cups(v);
  bool const drifts = v.drift_test.p < significant_p;
  if (v.scale_scatter > v.resolved / 3)
    lines.push_back("The scale is too coarse for these cups: run them longer or take a finer one.");
  if (v.scatter < 1e-9)
    lines.push_back("Cups of one flow are all equal: were rows copied, or the scale too coarse?");
  if (v.own_scatter > v.resolved)
    lines.push_back(
        "Cups differ by more than calipers resolve: a test piece would show the hopper, not the "
        "lag.");
  if (drifts && std::abs(v.drift) > v.resolved / 3)
    lines.push_back(
        fmt::format("The feed drifts by {} over the run: does the hopper's level fall, "
                    "or does its throat warm up?",
                    share(std::abs(v.drift))));
  if (v.flow_test.p < significant_p)
    lines.push_back(
        "What arrives depends on the flow: the one delivered factor is a compromise, "
        "and its deviation in the profile is widened for it.");
  lines.push_back("A cup averages a minute: over a second of bead the feed scatters more.");
  if (v.level != FeedLevel::even)
    lines.push_back(
        "What helps: granules of one size, dry and without dust, an agitator or a "
        "steeper hopper, a steady level, a cool throat.");
  return lines;
}

json burst_json(std::optional<double> const& value) { return value ? json(*value) : json(); }

}  // namespace

std::string to_text(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text = headline(table);
  text += fmt::format("{} cups, plastic of {:g} g/cm³; ± holds 95 % of chances\n\n",
                      v.cups,
                      table.options.density_g_cm3);
  text += figures(table) + "\n" + flow_rows(table) + "\n";
  for (std::string const& reason : reasons(table)) text += list_item(reason);
  return text;
}

std::string criteria_text(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text = fmt::format(
      "Criteria\n  drift  t {:.2f}, p {:.3g}\n", v.drift_test.statistic, v.drift_test.p);
  if (v.flows.size() > 1)
    text += fmt::format("  flow   F {:.2f}, p {:.3g}\n", v.flow_test.statistic, v.flow_test.p);
  text +=
      fmt::format("  feed's own scatter {:.2f} %; even below {:.2f} %, wanders above {:.2f} %\n",
                  100 * v.own_scatter,
                  100 * v.resolved / 3,
                  100 * v.resolved);
  return text;
}

json to_json(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  json flows = json::array(), odd = json::array();
  for (FlowShare const& flow : v.flows)
    flows.push_back({{"flow_mm3_s", flow.flow_mm3_s},
                     {"cups", flow.cups},
                     {"delivered_factor", flow.delivered_factor},
                     {"plus_minus", flow.plus_minus},
                     {"scatter", std::isnan(flow.scatter) ? json() : json(flow.scatter)},
                     {"scale_scatter", flow.scale_scatter}});
  for (calibrate::OddCup const& cup : v.odd_cups)
    odd.push_back({{"cup", cup.reading.number}, {"share", cup.share}, {"expected", cup.expected}});
  constexpr char const* levels[] = {"even", "borderline", "wanders"};
  return {
      {"level", levels[static_cast<std::size_t>(v.level)]},
      {"cups", v.cups},
      {"density_g_cm3", table.options.density_g_cm3},
      {"delivered_factor", v.delivered_factor},
      {"plus_minus", v.plus_minus},
      {"delivered_factor_sd", v.delivered_factor_sd},
      {"scatter", {{"share", v.scatter}, {"low", v.scatter_low}, {"high", v.scatter_high}}},
      {"scale_scatter", v.scale_scatter},
      {"own_scatter", v.own_scatter},
      {"drift", {{"share", v.drift}, {"plus_minus", v.drift_plus_minus}, {"p", v.drift_test.p}}},
      {"flow_spread", {{"share", v.flow_spread / v.delivered_factor}, {"p", v.flow_test.p}}},
      {"resolved", v.resolved},
      {"flows", flows},
      {"odd_cups", odd}};
}

std::string to_text(ScrewLimits const& limits) {
  std::string text = "Screw limits\n";
  auto const told = [](std::optional<double> const& value, char const* unit) {
    return value ? fmt::format("{:.3g} {}", *value, unit) : std::string("none");
  };
  text += fmt::format("  forward  passed {}, failed {}\n",
                      told(limits.passed_forward_mm3_s, "mm³/s"),
                      told(limits.failed_forward_mm3_s, "mm³/s"));
  text += fmt::format("  reverse  passed {}, failed {}\n",
                      told(limits.passed_reverse_mm_s, "mm/s of E"),
                      told(limits.failed_reverse_mm_s, "mm/s of E"));
  if (limits.max_flow_mm3_s)
    text += fmt::format(
        "  keep to  {:.3g} mm³/s forward{}\n",
        *limits.max_flow_mm3_s,
        limits.failed_forward_mm3_s ? ", 10 % below what passed, delivered" : " as delivered");
  if (limits.max_e_mm_s)
    text +=
        fmt::format("  keep to  {:.3g} mm/s of E, 10 % below what passed\n", *limits.max_e_mm_s);
  for (std::string const& remark : limits.remarks) text += list_item(remark);
  return text;
}

json to_json(ScrewLimits const& limits) {
  return {{"passed_forward_mm3_s", burst_json(limits.passed_forward_mm3_s)},
          {"failed_forward_mm3_s", burst_json(limits.failed_forward_mm3_s)},
          {"passed_reverse_mm_s", burst_json(limits.passed_reverse_mm_s)},
          {"failed_reverse_mm_s", burst_json(limits.failed_reverse_mm_s)},
          {"max_flow_mm3_s", burst_json(limits.max_flow_mm3_s)},
          {"max_e_mm_s", burst_json(limits.max_e_mm_s)},
          {"remarks", limits.remarks}};
}

}  // namespace meltlag::report
