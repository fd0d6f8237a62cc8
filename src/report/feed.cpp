// SPDX-License-Identifier: MIT
#include "meltlag/report/feed.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using fit::FeedLevel;
using fit::FeedVerdict;
using fit::FlowShare;
using fit::significant_p;
using nlohmann::json;

std::string share(double value) { return fmt::format("{:.1f} %", 100 * value); }

// A factor rounded where its uncertainty begins.
std::string factor(double value, double plus_minus) {
  return fmt::format("{:.3f} ± {:.3f}", value, plus_minus);
}

// The step that makes a third of what calipers resolve, as scales have it.
std::string finer_scale(FeedVerdict const& v) {
  double const enough = v.scale_g * v.resolved / 3 / v.scale_scatter;
  double const step = std::pow(10.0, std::floor(std::log10(enough)));
  return fmt::format("{:g}", step);
}

std::ptrdiff_t fed_flows(FeedVerdict const& v) {
  return std::ranges::count_if(v.flows, [](FlowShare const& flow) { return !flow.starves; });
}

// What the deviation in the profile is made of.
std::string sd_parts(FeedVerdict const& v) {
  std::string text = fmt::format("cups {:.3f}", v.cups_sd);
  if (v.flows_sd > 0) text += fmt::format(", between flows {:.3f}", v.flows_sd);
  if (v.density_sd > 0) text += fmt::format(", density {:.3f}", v.density_sd);
  return text;
}

std::string figures(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text =
      fmt::format("Delivered factor   {}\n", factor(v.delivered_factor, v.plus_minus));
  text += fmt::format("In the profile     ± {:.3f}, one deviation:\n                   {}\n",
                      v.delivered_factor_sd,
                      sd_parts(v));
  text += fmt::format("Cup to cup         {} ({:.1f} to {:.1f}); the scale's steps make {}\n",
                      share(v.scatter),
                      100 * v.scatter_low,
                      100 * v.scatter_high,
                      share(v.scale_scatter));
  text += fmt::format("Drift over the run {:+.1f} % ± {:.1f} %, {}\n",
                      100 * v.drift,
                      100 * v.drift_plus_minus,
                      v.drift_test.p < significant_p ? "more than chance" : "no more than chance");
  if (fed_flows(v) > 1)
    text += fmt::format("Between flows      {}, {}\n",
                        share(v.flow_spread / v.delivered_factor),
                        v.flow_test.p < significant_p ? "more than chance" : "no more than chance");
  if (v.starvation)
    text += fmt::format("Fed for long       {:.3g} ± {:.2g} mm³/s at most: above it cups starve\n",
                        v.starvation->max_flow_mm3_s,
                        v.starvation->plus_minus);
  else if (v.may_starve)
    text += fmt::format(
        "Fed for long       cannot tell; max_flow_mm3_s is at least {:.3g}: see below\n",
        v.fed_mm3_s);
  else
    text += fmt::format(
        "Fed for long       no cup starved up to {:.3g} mm³/s: max_flow_mm3_s is at\n"
        "                   least {:.3g}\n",
        v.flows.back().flow_mm3_s,
        v.fed_mm3_s);
  return text;
}

std::string flow_rows(FeedTable const& table) {
  Table rows({{"flow", "mm³/s", 7},
              {"cups", "", 5},
              {"delivered", "factor", 10},
              {"±", "", 7},
              {"scatter", "%", 8},
              {"scale", "%", 7},
              {"", "", 8}});
  std::string text = rows.header();
  for (FlowShare const& flow : table.verdict.flows)
    rows.append_row(text,
                    {number(flow.flow_mm3_s, 3),
                     std::to_string(flow.cups),
                     fixed(flow.delivered_factor, 3),
                     fixed(flow.plus_minus, 3),
                     fixed(100 * flow.scatter, 1),
                     fixed(100 * flow.scale_scatter, 1),
                     flow.starves ? "starves" : ""});
  return text;
}

std::vector<std::string> odd_cups(FeedVerdict const& v) {
  std::vector<std::string> lines;
  for (fit::OddCup const& odd : v.odd_cups)
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

// What bears on the flow that the screw feeds for long.
void add_supply_reasons(FeedTable const& table, std::vector<std::string>& lines) {
  FeedVerdict const& v = table.verdict;
  double const top = v.flows.back().flow_mm3_s;
  if (v.may_starve)
    lines.push_back(fmt::format(
        "Cups at {:g} mm³/s fall short: they starve, or the screw slips more there. Cups "
        "at {:.2g} mm³/s would tell; until then they count as slip.",
        top,
        1.5 * top));
  if (v.starvation)
    lines.push_back(
        "The delivered factor, scatter and drift are those of the cups that do not starve.");
  if (v.starvation && table.options.burst_mm3 == 0)
    lines.push_back(
        "What stood ready when a cup began counts in what is fed for long: 1 mm³ of it raises "
        "that by 1/60 mm³/s in a cup of a minute. --limits measures it.");
}

}  // namespace

Sentences headline(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  if (v.level == FeedLevel::cannot_tell)
    return {
        fmt::format("This scale cannot tell: its steps of {:g} g are {} of a cup, calipers on a "
                    "bead of {:g} mm "
                    "resolve {}. Weigh to {} g, or collect longer.",
                    v.scale_g,
                    share(v.scale_scatter),
                    table.options.bead_width_mm,
                    share(v.resolved),
                    finer_scale(v))};
  constexpr char const* words[] = {"Even enough",
                                   "Borderline",
                                   "The feed wanders, repair the hopper first",
                                   "Even at each flow, but flows differ"};
  std::string text = fmt::format(
      "{}: cups differ by {}", words[static_cast<std::size_t>(v.level)], share(v.own_scatter));
  bool const drifts = v.drift_test.p < significant_p;
  if (v.level == FeedLevel::depends_on_flow)
    text +=
        fmt::format(" at one flow, by {} between flows", share(v.flow_spread / v.delivered_factor));
  if (drifts) text += fmt::format(" and drift by {}", share(std::abs(v.drift)));
  return {text + ".",
          fmt::format("Calipers on a bead of {:g} mm resolve {}.",
                      table.options.bead_width_mm,
                      share(v.resolved))};
}

Sentences findings(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  Sentences lines = odd_cups(v);
  if (v.fed_evenly_mm3_s && !v.starvation)
    lines.push_back(fmt::format(
        "Above {0:.3g} mm³/s less of what is asked arrives. Type max_flow_mm3_s = {0:.3g} under "
        "[limits] to print within what is fed evenly.",
        *v.fed_evenly_mm3_s));
  if (v.density_sd > std::hypot(v.cups_sd, v.flows_sd))
    lines.push_back(
        "Most of the ± in the profile is the density's own: weigh a piece of known volume of this "
        "plastic, or give --density.");
  add_supply_reasons(table, lines);
  bool const drifts = v.drift_test.p < significant_p;
  if (v.scale_scatter > v.resolved / 3 && v.level != FeedLevel::cannot_tell)
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
  if (v.level == FeedLevel::borderline || v.level == FeedLevel::wanders)
    lines.push_back(
        "What helps: granules of one size, dry and without dust, an agitator or a "
        "steeper hopper, a steady level, a cool throat.");
  return lines;
}

std::string to_text(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text;
  for (std::string const& sentence : headline(table)) text += paragraph(sentence);
  text += fmt::format("{} cups, plastic of {:g} g/cm³; ± holds 95 % of chances\n\n",
                      v.cups,
                      table.options.density_g_cm3);
  text += figures(table) + "\n" + flow_rows(table) + "\n";
  return text + item_list(findings(table));
}

std::string criteria_text(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  std::string text = fmt::format(
      "Criteria\n  drift  t {:.2f}, p {:.3g}\n", v.drift_test.statistic, v.drift_test.p);
  if (fed_flows(v) > 1)
    text += fmt::format("  flow   F {:.2f}, p {:.3g}\n", v.flow_test.statistic, v.flow_test.p);
  if (v.starvation)
    text += fmt::format(
        "  starve F {:.2f}, p {:.3g}\n", v.starvation->test.statistic, v.starvation->test.p);
  text +=
      fmt::format("  feed's own scatter {:.2f} %; even below {:.2f} %, wanders above {:.2f} %\n",
                  100 * v.own_scatter,
                  100 * v.resolved / 3,
                  100 * v.resolved);
  return text;
}

namespace {

json json_of(FlowShare const& flow) {
  auto const known = [](double share) { return std::isnan(share) ? json() : json(share); };
  return {{"flow_mm3_s", flow.flow_mm3_s},
          {"cups", flow.cups},
          {"delivered_factor", flow.delivered_factor},
          {"plus_minus", known(flow.plus_minus)},
          {"starves", flow.starves},
          {"scatter", known(flow.scatter)},
          {"scale_scatter", flow.scale_scatter}};
}

}  // namespace

json to_json(FeedTable const& table) {
  FeedVerdict const& v = table.verdict;
  json flows = json::array(), odd = json::array();
  for (FlowShare const& flow : v.flows) flows.push_back(json_of(flow));
  for (fit::OddCup const& cup : v.odd_cups)
    odd.push_back({{"cup", cup.reading.number}, {"share", cup.share}, {"expected", cup.expected}});
  constexpr char const* levels[] = {
      "even", "borderline", "wanders", "depends on flow", "cannot tell"};
  json fed{{"at_least_mm3_s", v.fed_mm3_s}, {"may_starve", v.may_starve}};
  if (v.fed_evenly_mm3_s) fed["evenly_up_to_mm3_s"] = *v.fed_evenly_mm3_s;
  if (v.starvation)
    fed.update({{"max_flow_mm3_s", v.starvation->max_flow_mm3_s},
                {"plus_minus", v.starvation->plus_minus},
                {"sd", v.starvation->sd},
                {"p", v.starvation->test.p}});
  return {
      {"level", levels[static_cast<std::size_t>(v.level)]},
      {"cups", v.cups},
      {"density_g_cm3", table.options.density_g_cm3},
      {"delivered_factor", v.delivered_factor},
      {"plus_minus", v.plus_minus},
      {"delivered_factor_sd", v.delivered_factor_sd},
      {"sd_of", {{"cups", v.cups_sd}, {"flows", v.flows_sd}, {"density", v.density_sd}}},
      {"scale_g", v.scale_g},
      {"scatter", {{"share", v.scatter}, {"low", v.scatter_low}, {"high", v.scatter_high}}},
      {"scale_scatter", v.scale_scatter},
      {"own_scatter", v.own_scatter},
      {"drift", {{"share", v.drift}, {"plus_minus", v.drift_plus_minus}, {"p", v.drift_test.p}}},
      {"flow_spread", {{"share", v.flow_spread / v.delivered_factor}, {"p", v.flow_test.p}}},
      {"resolved", v.resolved},
      {"fed_for_long", fed},
      {"flows", flows},
      {"odd_cups", odd}};
}

}  // namespace meltlag::report
