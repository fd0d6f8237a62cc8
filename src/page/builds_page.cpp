// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "drawing.hpp"
#include "html_items.hpp"
#include "meltlag/page/cause_pages.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/row_list.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::page {
namespace {

// One quantity over the builds; a build without it has no point.
struct Line {
  std::string colour, name;
  std::vector<std::optional<melt::Uncertain>> values;
};

class TrendPanel {
 public:
  TrendPanel(std::vector<Line> const& lines, std::string_view unit) : lines_(lines), unit_(unit) {
    double most = 0;
    for (Line const& line : lines)
      for (auto const& value : line.values)
        if (value) most = std::max(most, value->value + value->sd);
    scale_ = scale_to(1.02 * most, 4);
    count_ = lines.front().values.size();
  }

  void write(Out const& out, std::string const& title) const {
    out(fmt::format("<figure><figcaption>{}</figcaption>\n", escape_html(title)));
    {
      Drawing drawing(out, title + " over the builds", bottom + 36);
      for (double const tick : scale_.ticks()) {
        drawing.line({left, down(tick)}, {right, down(tick)}, "line");
        drawing.text({left - 1.5, down(tick) + 4}, Anchor::end, fmt::format("{:g}", tick), "soft");
      }
      drawing.text({0, top - 10}, Anchor::start, unit_, "soft");
      std::size_t const every = 1 + count_ / 12;
      for (std::size_t i = 0; i < count_; i += every)
        drawing.text({at(i), bottom + 16}, Anchor::middle, std::to_string(i + 1), "soft");
      drawing.text({(left + right) / 2, bottom + 32}, Anchor::middle, "build", "soft");
      for (std::size_t k = 0; k < lines_.size(); ++k) draw(drawing, k);
    }
    out("</figure>\n");
  }

 private:
  static constexpr double top = 24, bottom = 170, left = 14, right = 99;

  [[nodiscard]] double down(double value) const {
    return bottom - (bottom - top) * scale_.share(value);
  }
  [[nodiscard]] double at(std::size_t i) const {
    return left + (right - left) * (static_cast<double>(i) + 0.5) / static_cast<double>(count_);
  }

  // Lines stand a little beside each other, so that their whiskers do not hide each other.
  void draw(Drawing& drawing, std::size_t k) const {
    double const middle = (static_cast<double>(lines_.size()) - 1) / 2;
    double const beside = 2.2 * (static_cast<double>(k) - middle);
    Line const& line = lines_[k];
    std::optional<Drawing::Point> last;
    for (std::size_t i = 0; i < count_; ++i) {
      auto const& value = line.values[i];
      if (!value) continue;
      Drawing::Point const here{at(i) + beside, down(value->value)};
      if (last) drawing.line(*last, here, line.colour, "2 3");
      if (value->sd > 0)
        drawing.whisker_down(here.x,
                             down(value->value + value->sd),
                             down(std::max(0.0, value->value - value->sd)),
                             line.colour);
      drawing.dot(here, line.colour);
      last = here;
    }
  }

  std::vector<Line> const& lines_;
  std::string_view unit_;
  Scale scale_{};
  std::size_t count_ = 0;
};

template <class Value>
Line line_of(report::BuildsPage const& page,
             std::string colour,
             std::string name,
             Value const& value) {
  Line line{std::move(colour), std::move(name), {}};
  for (report::BuildRow const& row : page.builds) line.values.push_back(value(row));
  return line;
}

std::optional<melt::Uncertain> mean_of(std::vector<double> const& prints) {
  if (prints.empty()) return std::nullopt;
  compare::Sample const sample = compare::sample_of(prints);
  return melt::Uncertain{sample.mean, sample.mean_sd()};
}

bool any(Line const& line) {
  return std::ranges::any_of(line.values, [](auto const& value) { return value.has_value(); });
}

std::vector<Line> lags_of(report::BuildsPage const& page) {
  std::vector<Line> lags;
  for (std::size_t i = 0; i < 3; ++i)
    lags.push_back(
        line_of(page,
                fmt::format("share-{}", i),
                fmt::format("at {} mm³/s", report::number(page.builds[0].lags[i].flow_mm3_s, 2)),
                [i](report::BuildRow const& row) {
                  return std::optional<melt::Uncertain>(row.lags[i].lag_s);
                }));
  return lags;
}

void write_trend(HtmlPage& html, report::BuildsPage const& page) {
  using Known = std::optional<melt::Uncertain>;
  html.section("trend",
               "From build to build",
               "Whiskers: ± one deviation; of blob and gap, of the mean over the prints. The "
               "builds are numbered as in the table.");
  Out const& out = html.out();
  out("<div class=\"panels\">\n");
  auto const panel =
      [&](std::string const& title, char const* unit, std::vector<Line> const& lines) {
        if (std::ranges::any_of(lines, any)) TrendPanel(lines, unit).write(out, title);
      };
  panel(fmt::format("Run-on at {:g} mm³/s", page.at_flow_mm3_s),
        "mm³",
        {line_of(page, "accent", "", [](report::BuildRow const& row) {
          return Known(row.run_on_mm3);
        })});
  std::vector<Line> const lags = lags_of(page);
  panel("Lag at three flows", "s", lags);
  panel(fmt::format("Residence time at {:g} mm³/s", page.at_flow_mm3_s),
        "s",
        {line_of(page, "accent", "", [](report::BuildRow const& row) {
          return row.residence_s ? Known({*row.residence_s, 0}) : Known();
        })});
  panel("Blob at a stop, as sliced",
        "mm³",
        {line_of(page, "measured", "", [](report::BuildRow const& row) {
          return mean_of(row.prints.blob_mm3);
        })});
  panel("Gap after a start, as sliced",
        "mm",
        {line_of(page, "measured", "", [](report::BuildRow const& row) {
          return mean_of(row.prints.gap_mm);
        })});
  out("</div>\n");
  std::vector<Key> keys;
  for (Line const& line : lags) keys.push_back({line.colour, "lag " + line.name});
  write_keys(out, keys);
}

HtmlCell prints_cell(std::vector<double> const& values, std::string const& key) {
  auto const mean = mean_of(values);
  if (!mean) return {};
  return {fmt::format("{} ({})", report::plus_minus(mean->value, mean->sd), values.size()),
          key + ".mean"};
}

HtmlTable builds_table(report::BuildsPage const& page) {
  HtmlTable table{.caption = "± one deviation",
                  .columns = {{"build", "", report::Align::left}, {"date", ""}, {"run-on", "mm³"}},
                  .rows = {}};
  for (report::LagPoint const& lag : page.builds[0].lags)
    table.columns.push_back(
        {"lag, s", fmt::format("at {} mm³/s", report::number(lag.flow_mm3_s, 2))});
  table.columns.push_back({"residence", "s"});
  table.columns.push_back({"blob", "mm³ (prints)"});
  table.columns.push_back({"gap", "mm (prints)"});
  for (std::size_t i = 0; i < page.builds.size(); ++i) {
    report::BuildRow const& row = page.builds[i];
    std::string const key = fmt::format("builds.{}.", i);
    std::vector<HtmlCell> cells = {
        {fmt::format("{}  {}", i + 1, row.title)},
        {row.date},
        {report::plus_minus(row.run_on_mm3.value, row.run_on_mm3.sd), key + "run_on_mm3"}};
    for (std::size_t k = 0; k < row.lags.size(); ++k)
      cells.push_back({report::plus_minus(row.lags[k].lag_s.value, row.lags[k].lag_s.sd),
                       fmt::format("{}lags.{}.lag_s", key, k)});
    cells.push_back(row.residence_s
                        ? HtmlCell{fmt::format("{:.0f}", *row.residence_s), key + "residence_s"}
                        : HtmlCell{});
    cells.push_back(prints_cell(row.prints.blob_mm3, key + "prints.blob_mm3"));
    cells.push_back(prints_cell(row.prints.gap_mm, key + "prints.gap_mm"));
    table.rows.push_back(std::move(cells));
  }
  return table;
}

void write_changes(HtmlPage& html, report::BuildsPage const& page) {
  html.section("builds", "The builds", "");
  write_table(html.out(), builds_table(page));
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < page.builds.size(); ++i) {
    report::BuildRow const& row = page.builds[i];
    std::string const text = report::build_notes(row);
    if (!text.empty()) notes.push_back(fmt::format("{} {}: {}", i + 1, row.title, text));
  }
  if (notes.empty()) return;
  html.section("changed", "What changed", "");
  write_items(html.out(), notes);
}

}  // namespace

void write_page(Out const& out, BuildsReport const& report) {
  report::BuildsPage const& page = report.builds;
  HtmlPage html(
      out,
      {.title = "The builds of the machine",
       .subtitle = fmt::format("{} builds, run-on and residence time at {:g} mm³/s · meltlag {} "
                               "builds",
                               page.builds.size(),
                               page.at_flow_mm3_s,
                               report.version)});
  if (!page.builds.empty()) {
    write_trend(html, page);
    write_changes(html, page);
  }
  html.section("cautions", "What to keep in mind", "");
  html.cautions({"`meltlag causes NEW --against OLD` says whether one build is better than "
                 "another, by the scatter between prints.",
                 "All builds are shown at the flows of the first one."},
                {});
  html.section("profile", "The profiles", "");
  for (ProfileText const& profile : report.profiles) html.profile(profile.title, profile.text);
  html.finish();
}

}  // namespace meltlag::page
