// SPDX-License-Identifier: MIT
// Writes a page with every block that pages are put together from, to stdout: for a look, and for
// the browser test.
#include <cmath>
#include <cstdio>
#include <limits>

#include "meltlag/page/html.hpp"
#include "meltlag/page/html_blocks.hpp"

using namespace meltlag::page;
using namespace meltlag::report;

namespace {

// A predicted curve of many points, with measured ones and their error bars.
LineChart measured_over_predicted() {
  constexpr int points = 100'000;
  LineChart chart{.id = "measured",
                  .title = "Measured over predicted",
                  .x_label = "line",
                  .y_label = "mm³/s",
                  .x = {},
                  .series = {{.name = "predicted", .role = Role::after, .y = {}},
                             {.name = "measured",
                              .role = Role::measured,
                              .stroke = Stroke::points,
                              .y = {},
                              .plus_minus = {}}}};
  for (int i = 0; i < points; ++i) {
    bool const measured = i % 5000 == 2500;
    double const flow = 5 + 2 * std::sin(i * 2e-4) + (i % 97 == 0 ? 1 : 0);
    chart.x.push_back(i);
    chart.series[0].y.push_back(flow);
    chart.series[1].y.push_back(measured ? 0.95 * flow : std::numeric_limits<double>::quiet_NaN());
    chart.series[1].plus_minus.push_back(0.4);
  }
  return chart;
}

LineChart off_by() {
  return {
      .id = "off-by",
      .title = "Off by",
      .x_label = "line",
      .y_label = "%",
      .x = {10, 20, 30, 40},
      .series = {
          {.name = "off by",
           .role = Role::measured,
           .stroke = Stroke::points,
           .y = {-3, 2, 5, 1},
           .plus_minus = {1, 2, 1, 1}},
          {.name = "expected", .role = Role::wanted, .stroke = Stroke::dashed, .y = {0, 0, 0, 0}}}};
}

}  // namespace

int main() {
  Out const out = [](std::string_view text) { std::fwrite(text.data(), 1, text.size(), stdout); };
  HtmlPage page(out, {.title = "Blocks", .subtitle = "of which pages are made"});
  page.section("charts", "Charts", "Measured points lie over predicted curves.");
  write_chart(out, measured_over_predicted());
  write_chart(out, off_by());
  page.section("shares", "Where the lag comes from", "");
  write_shares(out,
               {.caption = "Run-on of 5.0 mm³ at 5 mm³/s",
                .shares = {{"printed bracket", 0.62, "62 %"},
                           {"head plate", 0.2, "20 %"},
                           {"melt", 0.1, "10 %"},
                           {"thrust bearing", 0.08, "8 %"}}});
  page.section("rows", "Rows", "");
  write_table(
      out,
      {.caption = "What would shorten it",
       .columns = {{"change", "", Align::left}, {"lag", "s"}, {"run-on", "mm³"}},
       .rows = {{{"steel bracket"}, {"0.42"}, {"2.1"}}, {{"as it is"}, {"1.00"}, {"5.0"}}}});
  page.cautions({"A sentence of caution, 5 % of it bold."}, {});
  page.profile("Bench auger", "title = \"Bench auger\"\n");
  page.finish();
}
