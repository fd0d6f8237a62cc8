// SPDX-License-Identifier: MIT
// What pages are put together from: tables, bars of shares, line charts.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/page/html.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {

// A cell's text; `json` names the value of the command's --json output that it shows
// ("adapted.planned_s", "changes.0.lag_s"), empty where there is none; `swatch` is the name of a
// colour of the page to stand before the text, as in a legend.
struct HtmlCell {
  std::string text;
  std::string json = {};
  std::string swatch = {};
};

struct HtmlColumn {
  std::string name, unit;  // the unit stands under the name
  report::Align align = report::Align::right;
};

struct HtmlTable {
  std::string caption;  // may be empty
  std::vector<HtmlColumn> columns;
  std::vector<std::vector<HtmlCell>> rows;
};
void write_table(Out const& out, HtmlTable const& table);

// Parts of a whole as one bar with a legend. What is not above 0 is left out of the bar.
struct HtmlShare {
  std::string name;
  double share = 0;                        // of 1
  std::string text;                        // beside the name: "12.8 %"
  std::string json = {};                   // as HtmlCell's
  std::optional<std::size_t> colour = {};  // of the page's shares; by its place where not said
};
struct HtmlShares {
  std::string caption;
  std::vector<HtmlShare> shares;
};
void write_shares(Out const& out, HtmlShares const& shares);

// Colours have a meaning that is the same all over the page.
enum class Role : std::uint8_t { wanted, before, after, measured, first, second, third };
enum class Stroke : std::uint8_t { line, dashed, steps, points };

struct ChartSeries {
  std::string name;
  Role role = Role::first;
  Stroke stroke = Stroke::line;
  std::vector<double> y;                // one for each x; NaN where there is none
  std::vector<double> plus_minus = {};  // half length of the error bars; may be empty
};

// Curves over a common x that can be zoomed. x ascends. Any number of points: the page draws what
// the screen resolves.
struct LineChart {
  std::string id;     // letters, digits and '-', once a page
  std::string title;  // also its text for those who cannot see it
  std::string x_label, y_label;
  std::vector<double> x;
  std::vector<ChartSeries> series;
};
void write_chart(Out const& out, LineChart const& chart);

}  // namespace meltlag::page
