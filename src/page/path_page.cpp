// SPDX-License-Identifier: MIT
#include "meltlag/page/path_page.hpp"

#include <fmt/format.h>

#include <cmath>

#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/credit.hpp"
#include "meltlag/report/metrics_rows.hpp"
#include "path_data.hpp"

namespace meltlag::page {
namespace {

using judge::PrintMetrics;

// A column of the headline.
struct Column {
  PrintMetrics const* metrics;
  std::string key, name, colour;
};

std::vector<Column> columns_of(report::MetricsTable const& table) {
  bool const alone = !table.flow_set_right && !table.adapted;
  std::vector<Column> out = {
      {&table.as_sliced, "as_sliced.", alone ? "this file" : "as sliced", "before"}};
  if (table.flow_set_right)
    out.push_back({&*table.flow_set_right, "flow_set_right.", "flow set right", "right-flow"});
  if (table.adapted) out.push_back({&*table.adapted, "adapted.", "adapted", "after"});
  return out;
}

// The share misplaced in each column, large, with the column's name beneath.
std::string big(std::vector<Column> const& columns) {
  std::string out;
  for (Column const& column : columns) {
    if (!out.empty()) out += " <span class=\"to\">→</span> ";
    out += fmt::format("<span class=\"{}\">{}<small>{}</small></span>",
                       column.colour,
                       report::percent(column.metrics->misplaced_share()),
                       column.name);
  }
  return out;
}

HtmlTable metrics_table(report::MetricsTable const& table) {
  std::vector<Column> const columns = columns_of(table);
  HtmlTable out{.caption = "", .columns = {{"", "", report::Align::left}}, .rows = {}};
  for (Column const& column : columns)
    out.columns.push_back({column.name, "", report::Align::left});
  for (report::MetricsRow const& row : report::metrics_rows(table)) {
    if (row.on == report::On::terminal) continue;
    auto& cells = out.rows.emplace_back();
    cells.push_back({row.name});
    for (std::size_t k = 0; k < columns.size(); ++k)
      cells.push_back({row.values[k], columns[k].key + row.json});
  }
  return out;
}

std::string points_of(double share, double whole) {
  std::string const text =
      fmt::format("{} points, {:.0f} %", report::fixed(100 * share, 1), 100 * share / whole);
  constexpr double least = 5e-4;  // what still shows as a tenth of a point
  return share < -least ? text + ": worse" : text;
}

// Of what is misplaced as sliced: who takes it away, and what is left.
void write_credit(Out const& out, report::Credit const& credit) {
  constexpr std::size_t blue = 0, green = 2, vermilion = 4, sky = 5;  // of the style's shares
  HtmlShares shares{.caption = fmt::format("As sliced, {} of the plastic is misplaced. Of that",
                                           report::percent(credit.as_sliced)),
                    .shares = {}};
  auto const add = [&](char const* name, double share, char const* key, std::size_t colour) {
    shares.shares.push_back({name,
                             share / credit.as_sliced,
                             points_of(share, credit.as_sliced),
                             std::string("misplaced_shares.") + key,
                             colour});
  };
  add("the slicer's flow setting alone takes away",
      credit.flow_setting,
      "flow_setting_share",
      blue);
  add(credit.slower ? "turning the screw differently, and a slower head, takes away"
                    : "turning the screw differently takes away",
      credit.screw,
      "screw_share",
      green);
  if (credit.time) add("more print time takes away", *credit.time, "time_share", sky);
  add("is left to the hardware", credit.left, "left_share", vermilion);
  write_shares(out, shares);
}

void write_headline(HtmlPage& html, PathPage const& page) {
  Out const& out = html.out();
  report::MetricsTable const& figures = page.figures;
  html.section(
      "headline",
      "What lands where it should not",
      figures.as_sliced.wanted_mm3 > 0 ? "Misplaced, of all the plastic that is wanted" : "");
  if (!page.nothing_gained.empty()) html.warning(page.nothing_gained);
  if (auto const overload = report::overload_of(figures)) {
    if (page.nothing_gained.empty()) html.warning(report::headline(*overload));
    html.paragraph(report::details(*overload));
  }
  if (figures.as_sliced.wanted_mm3 <= 0) {
    html.paragraph("The file extrudes nothing while the head moves.");
  } else {
    out("<p class=\"big columns\">" + big(columns_of(figures)) + "</p>\n");
    if (std::string const words = report::verdict(figures); !words.empty())
      report::better_than_flow_setting(figures) ? html.paragraph(words) : html.warning(words);
    if (auto const credit = report::credit_of(figures)) write_credit(out, *credit);
  }
  write_table(out, metrics_table(figures));
  if (std::string const words = report::flow_setting_words(figures); !words.empty())
    html.paragraph(words);
  for (std::string const& remark : page.remarks) html.paragraph(remark);
}

void write_changes(HtmlPage& html, report::ChangeCounts const& counts) {
  html.section(
      "changes",
      "What became of the moves",
      fmt::format("{} moves of the original, {} of them changed.", counts.moves, counts.changed));
  HtmlShares shares{.caption = "Moves of the original", .shares = {}};
  for (int i = 0; i < judge::change_kinds; ++i) {
    std::int64_t const count = counts.of[static_cast<std::size_t>(i)];
    if (count == 0) continue;
    shares.shares.push_back({std::string(judge::name_of(static_cast<judge::Change>(i))),
                             static_cast<double>(count) / static_cast<double>(counts.moves),
                             std::to_string(count)});
  }
  write_shares(html.out(), shares);
}

// What the scripts fill. Without scripts a sentence stands there.
constexpr std::string_view flow_frame = R"(<noscript><p>The pictures need scripts.</p></noscript>
<div class="tools" id="flow-tools"></div>
<div id="flow"></div>
<p class="readout" id="flow-readout" aria-live="polite"></p>
)";
constexpr std::string_view bed_frame = R"(<div class="tools" id="bed-tools"></div>
<div id="bed"></div>
<p class="readout" id="bed-readout" aria-live="polite"></p>
)";

void write_pictures(HtmlPage& html, Files files) {
  bool const two = files == Files::two;
  html.section(
      "flow-section",
      "Flow over time",
      two ? "Both files are laid along the same path: what the file as sliced does is shown at the "
            "moment when the other one passes the same place. From afar the line is the mean, the "
            "band around it the range."
          : "From afar the line is the mean, the band around it the range.");
  html.out()(flow_frame);
  html.section("bed-section",
               "The bed, layer by layer",
               two ? "Beads in their true width, as sliced and adapted. Behind each is the wanted "
                     "bead; the colour says how far the width is off."
                   : "Beads in their true width. Behind each is the wanted bead; the colour says "
                     "how far the width is off.");
  html.out()(bed_frame);
  html.section(
      "worst-section",
      "The worst twenty places",
      "Watch for these at the machine. Places above each other on several layers are one, the "
      "worst of them is told. A place shows itself above when it is chosen.");
  html.out()("<div id=\"worst\"></div>\n");
}

std::vector<std::string> cautions_of(PathPage const& page, PathRecord const& path) {
  std::vector<std::string> out = page.cautions;
  out.emplace_back(
      "All of this is predicted from the profile, nothing is measured: a profile that is wrong "
      "by 30 % moves the figures by several points.");
  out.emplace_back(
      "Widths are section divided by layer height, as if each bead had straight sides; beads "
      "beside each other are not squeezed. What leaves the nozzle at standstill is drawn into the "
      "bead next to it.");
  out.push_back(fmt::format(
      "In the pictures neighbouring pieces of the path that differ by less than {:.0f} % are drawn "
      "as one; the figures and the list of places are exact.",
      100 * path.tolerance()));
  if (page.figures.parts) {
    out.emplace_back("Thrust is pressure times the bore's area; the true area is a little less.");
  }
  return out;
}

std::string subtitle_of(PathPage const& page) {
  return fmt::format("{} · profile: {} · meltlag {} {}",
                     page.file,
                     page.profile_title,
                     page.version,
                     page.command);
}

}  // namespace

void write_page(Out const& out, PathPage const& page, PathRecord const& path) {
  Files const files = page.figures.adapted ? Files::two : Files::one;
  HtmlPage html(
      out,
      {.title = files == Files::two ? "As sliced and adapted" : "What this file lays down",
       .subtitle = subtitle_of(page)});
  write_headline(html, page);
  if (page.changes) write_changes(html, *page.changes);
  bool const shows = page.figures.as_sliced.wanted_mm3 > 0 && !path.layers().empty();
  if (shows) write_pictures(html, files);
  html.section("cautions", "What to keep in mind", "");
  html.cautions(cautions_of(page, path), page.notices);
  html.section("profile", "The profile", "");
  html.profile(page.profile_title, page.profile_text);
  if (shows) write_path_data(out, path, files);
  html.finish();
}

}  // namespace meltlag::page
