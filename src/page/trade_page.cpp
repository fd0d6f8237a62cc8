// SPDX-License-Identifier: MIT
#include "meltlag/page/trade_page.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "drawing.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

// Misplaced plastic over the time that is added.
class Curve {
 public:
  explicit Curve(report::TradeTable const& table)
      : table_(table),
        shares_(scale_to(
            1.02 * 100 *
                std::max(table.as_sliced.misplaced_share(), table.flow_set_right.misplaced_share()),
            5)),
        times_(scale_to(std::max(5.0, 100 * table.rows.back().extra), 8)) {}

  void write(Out const& out) const {
    std::string const title = "Misplaced plastic against added print time";
    out(fmt::format("<figure class=\"alone\"><figcaption>{}</figcaption>\n", title));
    {
      Drawing drawing(out, title, bottom + 40);
      write_axes(drawing);
      double const sliced = down(table_.as_sliced.misplaced_share());
      drawing.line({left, sliced}, {right, sliced}, "before", "5 4", 2);
      double const right_flow = down(table_.flow_set_right.misplaced_share());
      drawing.line({left, right_flow}, {right, right_flow}, "right", "5 4", 2);
      std::size_t const enough = report::where_it_stops_paying(table_);
      Drawing::Point const stop = at(table_.rows[enough]);
      drawing.line(stop, {stop.x, bottom}, "soft", "2 3");
      drawing.line({left, stop.y}, stop, "soft", "2 3");
      for (std::size_t i = 0; i + 1 < table_.rows.size(); ++i)
        drawing.line(at(table_.rows[i]), at(table_.rows[i + 1]), "after", "none", 2);
      for (adapt::TradeRow const& row : table_.rows) drawing.dot(at(row), "after");
    }
    write_keys(out, {{"before", "as sliced"}, {"right", "flow set right"}, {"after", "adapted"}});
    out("</figure>\n");
  }

 private:
  static constexpr double top = 30, bottom = 230, left = 12, right = 97;

  [[nodiscard]] double down(double share) const {
    return bottom - (bottom - top) * shares_.share(100 * share);
  }
  [[nodiscard]] double across(double percent) const {
    return left + (right - left) * times_.share(percent);
  }
  [[nodiscard]] Drawing::Point at(adapt::TradeRow const& row) const {
    return {across(std::max(0.0, 100 * row.extra)), down(row.figure.misplaced_share())};
  }

  void write_axes(Drawing& drawing) const {
    for (double const tick : shares_.ticks()) {
      drawing.line({left, down(tick / 100)}, {right, down(tick / 100)}, "line");
      drawing.text(
          {left - 1.5, down(tick / 100) + 4}, Anchor::end, fmt::format("{:g}", tick), "soft");
    }
    for (double const tick : times_.ticks())
      drawing.text({across(tick), bottom + 17}, Anchor::middle, fmt::format("{:g}", tick), "soft");
    drawing.text({0, top - 12}, Anchor::start, "misplaced, %", "soft");
    drawing.text({(left + right) / 2, bottom + 35}, Anchor::middle, "added print time, %", "soft");
  }

  report::TradeTable const& table_;
  Scale shares_, times_;
};

std::vector<HtmlCell> row_of(std::string granted,
                             std::string added,
                             judge::PrintMetrics const& figure,
                             std::string const& key) {
  return {{std::move(granted)},
          {report::percent(figure.misplaced_share()), key + ".misplaced_share"},
          {std::move(added)},
          {report::duration(figure.planned_s), key + ".planned_s"},
          {fmt::format("{}", figure.blobs), key + ".blobs"},
          {fmt::format("{:.2f}", figure.blob_mean_mm3()), key + ".blob_mean_mm3"},
          {fmt::format("{}", figure.gaps), key + ".gaps"},
          {fmt::format("{:.1f}", figure.gap_mean_mm()), key + ".gap_mean_mm"},
          {fmt::format("{:.1f}", figure.string_total_mm3), key + ".string_total_mm3"},
          {fmt::format("{:.1f}", figure.string_longest_mm), key + ".string_longest_mm"},
          {fmt::format("{:.1f}", figure.starved_mm3), key + ".starved_mm3"}};
}

HtmlTable table_of(report::TradeTable const& trade) {
  HtmlTable table{.caption = "Misplaced: share of what is wanted",
                  .columns = {{"granted", "", report::Align::left},
                              {"misplaced", ""},
                              {"added", ""},
                              {"print time", ""},
                              {"blobs", ""},
                              {"mean blob", "mm³"},
                              {"gaps", ""},
                              {"mean gap", "mm"},
                              {"strings", "mm³"},
                              {"longest", "mm"},
                              {"in vain", "mm³"}},
                  .rows = {row_of("as sliced", "", trade.as_sliced, "as_sliced"),
                           row_of("flow set right", "", trade.flow_set_right, "flow_set_right")}};
  for (std::size_t i = 0; i < trade.rows.size(); ++i) {
    adapt::TradeRow const& row = trade.rows[i];
    table.rows.push_back(row_of(fmt::format("+{:.0f} %", 100 * row.granted),
                                row.added_s > 0 ? report::duration(row.added_s) : "",
                                row.figure,
                                fmt::format("rows.{}.figure", i)));
  }
  return table;
}

}  // namespace

void write_page(Out const& out, TradePage const& page) {
  HtmlPage html(out,
                {.title = "What more print time buys",
                 .subtitle = fmt::format("{} · {} · meltlag {} adapt --time-table",
                                         page.file,
                                         page.profile_title,
                                         page.version)});
  html.section("trade", "Print time against misplaced plastic", report::where_it_ends(page.table));
  if (std::string const words = report::where_it_beats_the_flow_setting(page.table); !words.empty())
    html.warning(words);
  if (!page.table.rows.empty()) Curve(page.table).write(html.out());
  write_table(html.out(), table_of(page.table));
  html.section("cautions", "What to keep in mind", "");
  html.cautions(page.cautions, page.notices);
  html.section("profile", "The profile", "");
  html.profile(page.profile_title, page.profile_text);
  html.finish();
}

}  // namespace meltlag::page
