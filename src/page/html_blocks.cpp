// SPDX-License-Identifier: MIT
#include "meltlag/page/html_blocks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "drawing.hpp"
#include "meltlag/page/html_data.hpp"

namespace meltlag::page {
namespace {

std::string_view align_class(report::Align align) {
  return align == report::Align::left ? "left" : "right";
}

std::string_view name_of(Role role) {
  switch (role) {
    case Role::wanted:
      return "wanted";
    case Role::before:
      return "before";
    case Role::after:
      return "after";
    case Role::measured:
      return "measured";
    case Role::first:
      return "share-0";
    case Role::second:
      return "share-1";
    case Role::third:
      return "share-2";
  }
  return {};
}

std::string_view name_of(Stroke stroke) {
  switch (stroke) {
    case Stroke::line:
      return "line";
    case Stroke::dashed:
      return "dashed";
    case Stroke::steps:
      return "steps";
    case Stroke::points:
      return "points";
  }
  return {};
}

std::string json_attribute(std::string const& key) {
  return key.empty() ? "" : fmt::format(" data-json=\"{}\"", escape_html(key));
}

void write_row(Out const& out, HtmlTable const& table, std::vector<HtmlCell> const& row) {
  out("<tr>");
  for (std::size_t i = 0; i < row.size() && i < table.columns.size(); ++i) {
    std::string_view const tag = i == 0 ? "th scope=\"row\"" : "td";
    std::string const swatch =
        row[i].swatch.empty()
            ? ""
            : fmt::format("<i class=\"swatch\" style=\"background:var(--{})\"></i>",
                          escape_html(row[i].swatch));
    out(fmt::format("<{} class=\"{}\"{}>{}{}</{}>",
                    tag,
                    align_class(table.columns[i].align),
                    json_attribute(row[i].json),
                    swatch,
                    escape_html(row[i].text),
                    tag.substr(0, 2)));
  }
  out("</tr>\n");
}

}  // namespace

void write_table(Out const& out, HtmlTable const& table) {
  out("<div class=\"wide\"><table>\n");
  if (!table.caption.empty()) {
    out(fmt::format("<caption>{}</caption>\n", escape_html(table.caption)));
  }
  out("<thead><tr>");
  for (HtmlColumn const& column : table.columns) {
    std::string const unit =
        column.unit.empty() ? "" : fmt::format("<br><small>{}</small>", escape_html(column.unit));
    out(fmt::format("<th scope=\"col\" class=\"{}\">{}{}</th>",
                    align_class(column.align),
                    escape_html(column.name),
                    unit));
  }
  out("</tr></thead>\n<tbody>\n");
  for (auto const& row : table.rows) write_row(out, table, row);
  out("</tbody></table></div>\n");
}

void write_shares(Out const& out, HtmlShares const& shares) {
  out(
      fmt::format("<figure class=\"shares\"><figcaption>{}</figcaption>\n<div class=\"bar\" "
                  "aria-hidden=\"true\">",
                  escape_html(shares.caption)));
  auto const colour = [&](std::size_t i) {
    return share_colour(shares.shares[i].colour.value_or(i));
  };
  for (std::size_t i = 0; i < shares.shares.size(); ++i) {
    double const percent = 100 * std::clamp(shares.shares[i].share, 0.0, 1.0);
    if (percent > 0)
      out(fmt::format("<span class=\"{}\" style=\"flex:{:.3f}\"></span>", colour(i), percent));
  }
  out("</div>\n<ul>\n");
  for (std::size_t i = 0; i < shares.shares.size(); ++i) {
    HtmlShare const& share = shares.shares[i];
    out(fmt::format("<li><i class=\"{}\"></i>{} <b{}>{}</b></li>\n",
                    colour(i),
                    escape_html(share.name),
                    json_attribute(share.json),
                    escape_html(share.text)));
  }
  out("</ul></figure>\n");
}

void write_chart(Out const& out, LineChart const& chart) {
  nlohmann::json spec = {{"x_label", chart.x_label},
                         {"y_label", chart.y_label},
                         {"x", chart.id + "-x"},
                         {"series", nlohmann::json::array()}};
  write_floats(out, chart.id + "-x", chart.x);
  for (std::size_t i = 0; i < chart.series.size(); ++i) {
    ChartSeries const& series = chart.series[i];
    std::string const id = fmt::format("{}-y{}", chart.id, i);
    write_floats(out, id, series.y);
    nlohmann::json entry = {{"name", series.name},
                            {"role", name_of(series.role)},
                            {"stroke", name_of(series.stroke)},
                            {"y", id}};
    if (!series.plus_minus.empty()) {
      write_floats(out, id + "-pm", series.plus_minus);
      entry["plus_minus"] = id + "-pm";
    }
    spec["series"].push_back(std::move(entry));
  }
  std::string const text = spec.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  out(
      fmt::format("<figure class=\"chart\" id=\"{}\" data-chart=\"{}\"><figcaption>{}</figcaption>"
                  "<div class=\"legend\"></div><div class=\"plot\" role=\"img\" "
                  "aria-label=\"{}\"></div></figure>\n",
                  escape_html(chart.id),
                  escape_html(text),
                  escape_html(chart.title),
                  escape_html(chart.title)));
}

}  // namespace meltlag::page
