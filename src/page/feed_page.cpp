// SPDX-License-Identifier: MIT
#include "meltlag/page/feed_page.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr std::array<Role, 5> roles = {
    Role::first, Role::second, Role::third, Role::measured, Role::after};

void write_words(Out const& out, std::string const& text) {
  out(fmt::format("<pre>{}</pre>\n", escape_html(text)));
}

HtmlTable table_of(fit::FeedVerdict const& verdict) {
  HtmlTable table{.caption = "95 of 100 within ±",
                  .columns = {{"flow", "mm³/s"},
                              {"cups", ""},
                              {"delivered factor", ""},
                              {"±", ""},
                              {"scatter", ""},
                              {"", "", report::Align::left}},
                  .rows = {}};
  for (std::size_t i = 0; i < verdict.flows.size(); ++i) {
    fit::FlowShare const& flow = verdict.flows[i];
    std::string const key = fmt::format("feed.flows.{}.", i);
    table.rows.push_back({{report::number(flow.flow_mm3_s, 3)},
                          {std::to_string(flow.cups), key + "cups"},
                          {report::fixed(flow.delivered_factor, 3), key + "delivered_factor"},
                          std::isnan(flow.plus_minus)
                              ? HtmlCell{}
                              : HtmlCell{report::fixed(flow.plus_minus, 3), key + "plus_minus"},
                          std::isnan(flow.scatter)
                              ? HtmlCell{}
                              : HtmlCell{report::percent(flow.scatter), key + "scatter"},
                          {flow.starves ? "starves" : ""}});
  }
  return table;
}

// What each cup holds of what was asked for, in the order in which they were filled.
void write_cups_chart(Out const& out, FeedPage::Cups const& cups) {
  fit::FeedVerdict const& verdict = cups.table.verdict;
  double const density = cups.table.options.density_g_cm3 / 1000;
  LineChart chart{.id = "cups",
                  .title = "Cup by cup",
                  .x_label = "cup, in the order filled",
                  .y_label = "delivered / asked",
                  .x = {},
                  .series = {}};
  for (fit::CupReading const& cup : cups.readings) chart.x.push_back(cup.number);
  std::size_t const count = cups.readings.size();
  std::string const starving = "faster ones, which starve";
  chart.series.push_back({.name = "delivered factor",
                          .role = Role::wanted,
                          .stroke = Stroke::dashed,
                          .y = std::vector<double>(count, verdict.delivered_factor)});
  std::size_t even = 0;
  for (fit::FlowShare const& flow : verdict.flows) {
    bool const same = flow.starves && chart.series.back().name == starving;
    if (!same)
      chart.series.push_back(
          {.name = flow.starves ? starving
                                : fmt::format("{} mm³/s", report::number(flow.flow_mm3_s, 3)),
           .role = flow.starves ? Role::before : roles[even++ % roles.size()],
           .stroke = Stroke::points,
           .y = std::vector<double>(count, nan),
           .plus_minus = std::vector<double>(count, nan)});
    ChartSeries& series = chart.series.back();
    for (std::size_t i = 0; i < count; ++i) {
      fit::CupReading const& cup = cups.readings[i];
      if (cup.flow_mm3_s != flow.flow_mm3_s) continue;
      series.y[i] = cup.mass_g / density / cup.commanded_mm3;
      series.plus_minus[i] = flow.scale_scatter * series.y[i];
    }
  }
  write_chart(out, chart);
}

void write_flows_chart(Out const& out, fit::FeedVerdict const& verdict) {
  if (verdict.flows.size() < 2) return;
  ChartSeries series{.name = "delivered factor, 95 of 100 within the bars",
                     .role = Role::measured,
                     .stroke = Stroke::points,
                     .y = {},
                     .plus_minus = {}};
  LineChart chart{.id = "flows",
                  .title = "What arrives over the flow",
                  .x_label = "flow asked for, mm³/s",
                  .y_label = "delivered / asked",
                  .x = {},
                  .series = {}};
  for (fit::FlowShare const& flow : verdict.flows) {
    chart.x.push_back(flow.flow_mm3_s);
    series.y.push_back(flow.delivered_factor);
    series.plus_minus.push_back(flow.plus_minus);
  }
  chart.series.push_back(std::move(series));
  write_chart(out, chart);
}

void write_cups(HtmlPage& html, FeedPage::Cups const& cups) {
  fit::FeedVerdict const& verdict = cups.table.verdict;
  html.section("headline", "What arrives of what is asked for", "");
  html.out()(fmt::format(
      "<p class=\"big\">{} <small>delivered factor, one deviation; adapt divides by "
      "it</small></p>\n",
      escape_html(report::plus_minus(verdict.delivered_factor, verdict.delivered_factor_sd))));
  html.paragraph(fmt::format("{}", fmt::join(report::headline(cups.table), " ")));
  write_items(html.out(), report::findings(cups.table));
  write_table(html.out(), table_of(verdict));
  html.section("cups-section",
               "The cups",
               "Bars are what the scale's steps make. A slope over the cups is a drift.");
  write_cups_chart(html.out(), cups);
  write_flows_chart(html.out(), verdict);
}

}  // namespace

void write_page(Out const& out, FeedPage const& page) {
  HtmlPage html(out,
                {.title = "What the screw feeds, as measured",
                 .subtitle = fmt::format(
                     "{} · meltlag {} calibrate feed", page.profile_title, page.version)});
  if (page.cups) write_cups(html, *page.cups);
  if (page.limits) {
    html.section("limits", "In a burst, and back", "");
    write_words(html.out(), report::to_text(*page.limits));
  }
  if (page.store) {
    html.section("store", "Melt that stands ready", "");
    write_words(html.out(), report::to_text(*page.store));
  }
  html.section("cautions", "What to keep in mind", "");
  std::vector<std::string> cautions = {
      "The factor is of this plastic at this temperature: after a change of either, weigh again."};
  cautions.insert(cautions.end(), page.remarks.begin(), page.remarks.end());
  html.cautions(cautions, {});
  html.section("profile", "The profile that it was judged with", "");
  html.profile(page.profile_title, page.profile_text);
  html.finish();
}

}  // namespace meltlag::page
