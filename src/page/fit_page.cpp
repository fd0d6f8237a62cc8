// SPDX-License-Identifier: MIT
#include "meltlag/page/fit_page.hpp"

#include <fmt/format.h>

#include "fit_pictures.hpp"
#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/calibration.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

std::string shown(fit::Value const& value) { return report::plus_minus(value.value, value.sd); }

void write_headline(HtmlPage& html, fit::FitResult const& fit) {
  html.section("headline", "What was found", "");
  html.out()(
      fmt::format("<p class=\"big\">{} mm³ <small>run on after a stop, from {} mm³/s</small></p>\n",
                  escape_html(shown(fit.run_on_mm3)),
                  report::number(fit.law.at_flow_mm3_s, 2)));
  write_items(html.out(), report::next_measurements(fit));
  HtmlTable table{.caption = "± one deviation",
                  .columns = {{"", "", report::Align::left}, {"estimate", ""}},
                  .rows = {}};
  auto const add = [&](std::string name, fit::Value const& value, std::string const& key) {
    table.rows.push_back({{std::move(name)}, {shown(value), key + ".value"}});
  };
  add(fmt::format("run-on at {} mm³/s, mm³", report::number(fit.law.at_flow_mm3_s, 2)),
      fit.run_on_mm3,
      "run_on_mm3");
  add("flow index", fit.flow_index, "flow_index");
  for (std::size_t i = 0; i < fit.at_flows.size(); ++i)
    add(fmt::format("lag at {} mm³/s, s", report::number(fit.at_flows[i].flow_mm3_s, 1)),
        fit.at_flows[i].lag_s,
        fmt::format("lag.{}.lag_s", i));
  add("delivered factor", fit.delivered_factor, "delivered_factor");
  for (std::size_t i = 0; i < fit.extras.size(); ++i)
    if (fit.extras[i].taken)
      add(name_of(fit.extras[i].extra),
          fit.extras[i].value,
          fmt::format("beyond_the_lag.{}.estimate", i));
  table.rows.push_back({{"readings"}, {std::to_string(fit.readings), "readings"}});
  write_table(html.out(), table);
}

void write_piece_and_lag(HtmlPage& html, FitPage const& page) {
  auto const places = places_of(page);
  html.section("piece", "Where it was read, and how sure the lag is", "");
  html.out()("<div class=\"beside\">\n<div>\n");
  if (!places.empty()) write_piece_picture(html.out(), page, places);
  html.paragraph(
      "Colours say how much wider or narrower than fitted a bead is. Where a whole side is of one "
      "colour, the layer is higher or lower there than assumed; where a stretch is, the feed was "
      "uneven.");
  html.out()("</div>\n<div>\n");
  write_lag_chart(html.out(), page.fit);
  write_ellipse(html.out(), page.fit);
  html.paragraph(
      "After a change of flow the bead follows with the lag. Run-on and flow index are told "
      "together: where the ellipse leans, one may have too much of what the other has too little.");
  html.out()("</div>\n</div>\n");
}

void write_picture_facts(HtmlPage& html, fit::FitResult const& fit) {
  if (!fit.dense) return;
  fit::DenseOutcome const& dense = *fit.dense;
  HtmlTable table{.caption = "What the picture tells beside the lag, mm; ± one deviation",
                  .columns = {{"", "", report::Align::left}, {"estimate", ""}},
                  .rows = {}};
  auto const add = [&](char const* name, fit::Value const& value, std::string const& key) {
    table.rows.push_back({{name}, {shown(value), "picture." + key + ".value"}});
  };
  add("layer height in the middle", dense.height_mm, "layer_height_mm");
  add("more of it 90 mm to the right", dense.slope_x_mm, "slope_x_mm");
  add("90 mm to the back", dense.slope_y_mm, "slope_y_mm");
  add("90 mm out, by its bow", dense.bow_mm, "bow_mm");
  add("every width off by", dense.edge_offset_mm, "edge_offset_mm");
  table.rows.push_back(
      {{"widths wander by"}, {report::fixed(dense.wander_mm, 3), "picture.wander_mm"}});
  table.rows.push_back(
      {{"the same, of the bead"}, {report::percent(dense.wander_share), "picture.wander_share"}});
  table.rows.push_back(
      {{"alike over, s"}, {report::fixed(dense.alike_over_s, 1), "picture.alike_over_s"}});
  if (dense.pulse) add("pulsation with the turn, share", dense.pulse->share, "pulsation.share");
  if (dense.bursts && dense.bursts->starves) {
    add("fed for long, mm³/s", dense.bursts->max_flow_mm3_s, "bursts.max_flow_mm3_s");
    add("store for bursts, mm³", dense.bursts->burst_mm3, "bursts.burst_mm3");
  }
  write_table(html.out(), table);
}

void write_readings(HtmlPage& html, FitPage const& page) {
  html.section("readings-section",
               "Measured over fitted",
               page.fit.dense ? "Each ring from its beginning. Drag to zoom, double click to go "
                                "back."
                              : "Every width in the order of the sheet.");
  write_readings_charts(html.out(), page);
  write_scatter_picture(html.out(), page.fit);
  write_picture_facts(html, page.fit);
}

}  // namespace

void write_page(Out const& out, FitPage const& page) {
  HtmlPage html(out,
                {.title = "How far the outflow lags, as measured",
                 .subtitle = fmt::format("{} · {} · {} · meltlag {} calibrate fit",
                                         page.file,
                                         page.sheet,
                                         page.profile_title,
                                         page.version)});
  write_headline(html, page.fit);
  write_piece_and_lag(html, page);
  write_readings(html, page);
  html.section("details", "In words", "");
  for (report::Section const& section : report::findings(page.fit)) {
    html.out()(fmt::format("<h3>{}</h3>\n", escape_html(section.heading)));
    write_items(html.out(), section.sentences);
  }
  html.section("cautions", "What to keep in mind", "");
  html.cautions(
      {"The lag law is of this machine, nozzle, plastic and temperature: after a change of any, "
       "measure again.",
       "± tells what the readings scatter. What differs from print to print (granules, moisture, "
       "heat) it does not know."},
      {});
  html.section("profile", "The profile that it was fitted with", "");
  html.profile(page.profile_title, page.profile_text);
  html.finish();
}

}  // namespace meltlag::page
