// SPDX-License-Identifier: MIT
#include "comparison_tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/comparison_text.hpp"
#include "meltlag/report/print_checks.hpp"
#include "meltlag/report/table.hpp"
#include "path_data.hpp"

namespace meltlag::page {
namespace {

using compare::KindSummary;
using compare::PrintComparison;

std::string sign(double value) { return value > 0 ? "+" : ""; }

// A row of the worst stretches; the names of its cells' classes are those of the page's style.
class WorstRow {
 public:
  WorstRow(Out const& out, std::size_t index) : out_(out), index_(index) {
    out_(fmt::format("<tr><th scope=\"row\" class=\"right\">{}</th>", index + 1));
  }
  ~WorstRow() { out_("</tr>\n"); }
  WorstRow(WorstRow const&) = delete;
  WorstRow& operator=(WorstRow const&) = delete;

  // `label` stands before the text where there is no room for the head of the table.
  void cell(std::string_view classes,
            std::string_view label,
            std::string_view json_key,
            std::string const& text) {
    std::string const key =
        json_key.empty() ? ""
                         : fmt::format(" data-json=\"comparison.worst.{}.{}\"", index_, json_key);
    out_(fmt::format(
        "<td class=\"{}\" data-label=\"{}\"{}>{}</td>", classes, label, key, escape_html(text)));
  }

 private:
  Out const& out_;
  std::size_t index_;
};

void write_stretch(Out const& out, PrintComparison const& c, std::size_t index) {
  compare::RowStretch const& s = c.worst[index];
  std::string const lines = s.last_line > s.first_line
                                ? fmt::format("{}–{}", s.first_line, s.last_line)
                                : std::to_string(s.first_line);
  WorstRow row(out, index);
  row.cell("left what",
           "",
           "",
           fmt::format("{} too {}", compare::name_of(s.kind), s.mean_off > 0 ? "large" : "small"));
  row.cell("right",
           "off by ",
           "mean_off",
           fmt::format("{}{} {}",
                       sign(s.mean_off),
                       report::plus_minus(s.mean_off, 0),
                       compare::unit_of(s.kind)));
  row.cell("right", "", "mean_off_share", fmt::format("{:+.1f} %", 100 * s.mean_off_share));
  row.cell("right", "rows ", "rows", std::to_string(s.rows));
  row.cell("right", s.last_line > s.first_line ? "lines " : "line ", "first_line", lines);
  row.cell("right", "", "at_s", report::duration(std::max(0.0, s.at_s)));
  row.cell(
      "right", "layer ", s.layer > 0 ? "layer" : "", s.layer > 0 ? std::to_string(s.layer) : "–");
  row.cell(
      "left where",
      "",
      "",
      fmt::format("{}, X {:.0f} Y {:.0f}", where_on_bed(c.beads, s.at_mm), s.at_mm.x, s.at_mm.y));
}

}  // namespace

std::string measured_text(double value, double sd) {
  constexpr double tens = 99.5;  // two digits of it would end before the point
  if (sd >= tens) return fmt::format("{:.0f} ± {:.0f}", value, sd);
  return report::plus_minus(value, sd);
}

void write_kinds(Out const& out, PrintComparison const& c) {
  HtmlTable table{.caption = "",
                  .columns = {{"", "", report::Align::left}},
                  .rows = {{{"rows measured"}},
                           {{"bias ± its standard error"}},
                           {{"bias that chance and profile leave open"}},
                           {{"off by, rms"}},
                           {{"rms that is expected"}},
                           {{"explained by lag, against assuming none"}},
                           {{"the most that could be: measuring leaves the rest"}},
                           {{"rows within what is expected"}}}};
  for (std::size_t k = 0; k < c.kinds.size(); ++k) {
    KindSummary const& kind = c.kinds[k];
    table.columns.push_back(
        {std::string(compare::name_of(kind.kind)), std::string(compare::unit_of(kind.kind))});
    std::size_t row = 0;
    auto const add = [&](std::string text, char const* json) {
      table.rows[row++].push_back(
          {std::move(text), *json == 0 ? "" : fmt::format("comparison.kinds.{}.{}", k, json)});
    };
    add(std::to_string(kind.offs.count), "rows");
    add(measured_text(kind.offs.bias, kind.offs.bias_se), "bias");
    add("± " + report::plus_minus(kind.bias_allowed, 0), "");
    add(report::plus_minus(kind.offs.rms, 0), "rms");
    add(report::plus_minus(kind.expected_rms, 0), "expected_rms");
    add(report::percent(kind.share_explained), "share_explained");
    bool const possible = kind.most_explainable > 0;
    add(possible ? report::percent(kind.most_explainable) : "nothing",
        possible ? "most_explainable" : "");
    add(fmt::format("{} of {}", kind.as_expected, kind.offs.count), "as_expected");
  }
  write_table(out, table);
}

void write_worst(Out const& out, PrintComparison const& c) {
  out("<div id=\"worst\"><div class=\"wide\"><table>\n<thead><tr><th scope=\"col\" "
      "class=\"right\"></th><th scope=\"col\" class=\"left\">what</th>");
  for (char const* name : {"off by, mean", "of predicted", "rows", "lines", "when", "layer"})
    out(fmt::format("<th scope=\"col\" class=\"right\">{}</th>", name));
  out("<th scope=\"col\" class=\"left\">where it is worst</th></tr></thead>\n<tbody>\n");
  for (std::size_t i = 0; i < c.worst.size() && report::stands_out(c.worst[i]); ++i)
    write_stretch(out, c, i);
  out("</tbody></table></div></div>\n");
}

void write_mass(HtmlPage& html, compare::PartMass const& m) {
  html.section("mass", "What the scale says", "");
  HtmlTable table{
      .caption = "",
      .columns = {{"", "", report::Align::left}, {"", ""}},
      .rows = {
          {{"the part weighs"}, {report::fixed(m.mass_g, 3) + " g", "mass.mass_g"}},
          {{"predicted"}, {report::fixed(m.predicted_g, 3) + " g", "mass.predicted_g"}},
          {{"delivered factor by this part"},
           {measured_text(m.delivered_factor, m.delivered_factor_sd), "mass.delivered_factor"}},
          {{"delivered factor of the profile"},
           {report::fixed(m.profile_factor, 3), "mass.profile_delivered_factor"}}}};
  write_table(html.out(), table);
  write_items(html.out(), report::findings(m));
}

void write_time(HtmlPage& html, compare::TimeCheck const& check, motion::Limits const& limits) {
  html.section("time", "What the clock says", "");
  html.paragraph(fmt::format("The print took {}; planned were {} ({:+.1f} %).",
                             report::duration(check.took_s),
                             report::duration(check.planned_s),
                             100 * (check.took_s / check.planned_s - 1)));
  HtmlTable table{.caption = "Entries of [machine], the most doubtful first",
                  .columns = {{"entry", "", report::Align::left},
                              {"a tenth more", "changes, s"},
                              {"four times and a quarter", "make it last, s"},
                              {"explains the time", "as a multiple of itself"}},
                  .rows = {}};
  for (std::size_t i = 0; i < check.entries.size(); ++i) {
    compare::TimeInfluence const& entry = check.entries[i];
    std::string const key = fmt::format("time.entries.{}.", i);
    table.rows.push_back(
        {{compare::name_of(entry.entry, limits.corner_rule)},
         {fmt::format("{:+.1f}", entry.change_s), key + "tenth_more_changes_s"},
         {fmt::format("{:.0f} – {:.0f}", entry.shortest_s, entry.longest_s), key + "shortest_s"},
         entry.times ? HtmlCell{fmt::format("{:.2f}", *entry.times), key + "times"}
                     : HtmlCell{"none does"}});
  }
  write_table(html.out(), table);
  write_items(html.out(), report::findings(check, limits));
}

void write_ticks(HtmlPage& html, compare::Ticks const& ticks) {
  html.section("ticks", "What was seen", "");
  HtmlTable table{
      .caption = "",
      .columns = {{"", "", report::Align::left}, {"", ""}},
      .rows = {{{"predicted differences that were seen"},
                {fmt::format("{} of {}", ticks.rate.hits, ticks.rate.of), "ticks.hits"}},
               {{"as a share"}, {report::percent(ticks.rate.share), "ticks.share"}},
               {{"95 %: at least"}, {report::percent(ticks.rate.low), "ticks.low_95"}},
               {{"95 %: at most"}, {report::percent(ticks.rate.high), "ticks.high_95"}},
               {{"left open"}, {std::to_string(ticks.open), "ticks.open"}}}};
  write_table(html.out(), table);
  write_items(html.out(), report::findings(ticks));
}

}  // namespace meltlag::page
