// SPDX-License-Identifier: MIT
#include "meltlag/page/comparison_page.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "comparison_data.hpp"
#include "comparison_tables.hpp"
#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/comparison_text.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

using compare::KindSummary;
using compare::MeasuredKind;
using compare::PrintComparison;

bool has(PrintComparison const& c, MeasuredKind kind) {
  return std::ranges::any_of(c.kinds, [&](KindSummary const& k) { return k.kind == kind; });
}

std::string possible_words(KindSummary const& kind) {
  if (!(kind.most_explainable > 0)) return "measuring itself leaves more than lag could explain";
  std::string const most = report::percent(kind.most_explainable);
  return kind.share_explained < kind.most_explainable
             ? fmt::format("at most {} can be, since measuring itself leaves the rest", most)
             : fmt::format("as much as such measuring leaves to be explained ({})", most);
}

// The kind with the most rows speaks for the print.
std::string big_words(PrintComparison const& c) {
  auto const most =
      std::ranges::max_element(c.kinds, {}, [](KindSummary const& k) { return k.offs.count; });
  if (most == c.kinds.end()) return {};
  return fmt::format(
      "{} <small>of what is off without it is explained by lag</small><small "
      "class=\"below\">{}: {}</small>",
      report::percent(most->share_explained),
      escape_html(plural_of(most->kind)),
      escape_html(possible_words(*most)));
}

void write_refit(Out const& out, PrintComparison const& c) {
  compare::Refit const& refit = c.refit;
  if (refit.run_on_sd <= 0 && refit.delivered_factor_sd <= 0 && !c.clock) return;
  HtmlTable table{.caption = "By these rows alone",
                  .columns = {{"", "", report::Align::left}, {"", "± one deviation"}},
                  .rows = {}};
  if (refit.run_on_sd > 0)
    table.rows.push_back(
        {{"run-on, times the profile's"},
         {measured_text(refit.run_on, refit.run_on_sd), "comparison.refit.run_on.times"}});
  if (refit.delivered_factor_sd > 0)
    table.rows.push_back({{"delivered factor, times the profile's"},
                          {measured_text(refit.delivered_factor, refit.delivered_factor_sd),
                           "comparison.refit.delivered_factor.times"}});
  if (c.clock)
    table.rows.push_back(
        {{c.clock->found ? "clock: planned time less the sheet's, s"
                         : "clock as given: planned time less the sheet's, s"},
         {measured_text(c.clock->offset_s, c.clock->sd_s), "comparison.clock.offset_s"}});
  write_table(out, table);
}

void write_headline(HtmlPage& html, ComparisonReport const& report) {
  PrintComparison const& c = *report.comparison;
  html.section("headline", "How far the prediction holds", "");
  html.out()("<p class=\"big\">" + big_words(c) + "</p>\n");
  std::vector<std::string> reading;
  for (compare::Finding const finding : c.findings)
    reading.push_back(report::finding_text(finding, c, report.names));
  write_items(html.out(), reading);
  write_kinds(html.out(), c);
  write_refit(html.out(), c);
  if (c.clock) write_items(html.out(), report::clock_findings(c));
}

void write_picture(Out const& out, PrintComparison const& c, std::string_view picture) {
  for (std::size_t k = 0; k < c.kinds.size(); ++k)
    out(fmt::format(
        "<div class=\"measured\" data-kind=\"{}\" data-picture=\"{}\"></div>\n", k, picture));
}

void write_over_predicted(HtmlPage& html, PrintComparison const& c) {
  html.section(
      "over",
      "Measured over predicted",
      "Bars are ± two deviations of what measuring and the profile leave open: where a "
      "bar does not reach the prediction, the row is off by more than expected and drawn "
      "as a diamond. From afar a point is the mean of many rows and its bar their range; a "
      "diamond says that most of them are off by more.");
  html.out()("<noscript><p>The pictures need scripts.</p></noscript>\n");
  write_picture(html.out(), c, "over");
}

void write_off(HtmlPage& html, PrintComparison const& c) {
  html.section("off",
               "Off by, line by line",
               "Measured less predicted along the lines of the file that was printed. The band is "
               "what is expected, ± two deviations; the numbered stripes are the worst stretches.");
  write_picture(html.out(), c, "off");
}

void write_scatter(HtmlPage& html, PrintComparison const& c) {
  html.section("against",
               "Measured against predicted",
               "On the line both are the same; the band is what is expected, ± two deviations.");
  html.out()("<div class=\"scatters\">\n");
  write_picture(html.out(), c, "against");
  html.out()("</div>\n");
}

void write_worst_section(HtmlPage& html, PrintComparison const& c) {
  html.section("worst-section",
               "The worst stretches",
               "Neighbouring rows that are off to the same side, weighed by what is expected.");
  if (c.worst.empty() || !report::stands_out(c.worst.front()))
    return html.paragraph("None stands out from what chance alone would show.");
  write_worst(html.out(), c);
}

void write_comparison(HtmlPage& html, ComparisonReport const& report) {
  PrintComparison const& c = *report.comparison;
  write_headline(html, report);
  write_over_predicted(html, c);
  write_off(html, c);
  write_scatter(html, c);
  write_worst_section(html, c);
}

std::string tools_text(PrintComparison const& c, compare::Tools const& tools) {
  std::string out = "Expected is what these leave open:";
  if (has(c, MeasuredKind::width))
    out += fmt::format(" widths ± {:g} mm, their place ± {:g} mm, a jaw of {:g} mm;",
                       tools.width_mm,
                       tools.place_mm,
                       tools.jaw_mm);
  if (has(c, MeasuredKind::mass))
    out += fmt::format(" masses ± {:g} g and {:g} %;", tools.mass_g, 100 * tools.density_share);
  if (has(c, MeasuredKind::line_flow) || has(c, MeasuredKind::flow))
    out += fmt::format(" flows ± {:g} mm³/s and {:g} %;", tools.flow_mm3_s, 100 * tools.flow_share);
  if (has(c, MeasuredKind::force))
    out += fmt::format(" forces ± {:g} N and {:g} %;", tools.force_n, 100 * tools.force_share);
  return out + " and the ± that the profile states.";
}

void add_cautions_of_rows(ComparisonReport const& report, std::vector<std::string>& out) {
  PrintComparison const& c = *report.comparison;
  out.push_back(tools_text(c, report.tools));
  if (report.original.empty())
    out.emplace_back(
        "What is wanted is read from the printed file. If that was adapted, it is what the screw "
        "was commanded there: give the sliced file with --original.");
  if (has(c, MeasuredKind::width))
    out.emplace_back(
        "Widths are computed from section and height as if sides were round and nothing pressed "
        "beads together; what leaves the nozzle at a standstill lies in the bead that begins "
        "there.");
  if (has(c, MeasuredKind::force))
    out.emplace_back(
        "Thrust is pressure times the bore's area; the true area lies between the screw's and the "
        "bore's. Friction on the screw is not modelled.");
}

std::vector<std::string> cautions_of(ComparisonReport const& report) {
  std::vector<std::string> out;
  if (report.comparison) add_cautions_of_rows(report, out);
  if (report.profile) {
    out.emplace_back(
        "Not modelled: granules that bridge or slip, the screw's pulsation with its turns, slow "
        "creep of plastic brackets, oozing, and a melt that needs time to take the nozzle's "
        "temperature.");
  }
  for (std::string const& remark : report.remarks)
    out.push_back((report.by_picture ? "The picture: " : "The sheet: ") + remark);
  return out;
}

std::string subtitle_of(ComparisonReport const& report) {
  std::string out;
  auto const add = [&](std::string const& part) {
    if (!part.empty()) out += part + " · ";
  };
  add(report.names.file);
  if (report.comparison) add(report.names.sheet);
  add(report.tick_sheet);
  if (report.profile) add("profile: " + report.profile->title);
  return out + fmt::format("meltlag {} compare", report.version);
}

}  // namespace

void write_page(Out const& out, ComparisonReport const& report) {
  HtmlPage html(out,
                {.title = report.comparison ? "Measured against predicted" : "What the print says",
                 .subtitle = subtitle_of(report)});
  if (report.comparison) write_comparison(html, report);
  if (report.mass) write_mass(html, *report.mass);
  if (report.time) write_time(html, *report.time, report.limits);
  if (report.ticks) write_ticks(html, *report.ticks);
  std::vector<std::string> const cautions = cautions_of(report);
  if (!cautions.empty() || !report.notices.empty()) {
    html.section("cautions", "What to keep in mind", "");
    html.cautions(cautions, report.notices);
  }
  if (report.profile) {
    html.section("profile", "The profile", "");
    html.profile(report.profile->title, report.profile->text);
  }
  if (report.comparison) write_comparison_data(out, *report.comparison);
  html.finish();
}

}  // namespace meltlag::page
