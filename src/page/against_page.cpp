// SPDX-License-Identifier: MIT
#include "against_page.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <vector>

#include "cause_pictures.hpp"
#include "html_items.hpp"
#include "meltlag/page/html_blocks.hpp"
#include "meltlag/report/build_json.hpp"
#include "meltlag/report/row_list.hpp"

namespace meltlag::page {
namespace {

constexpr char const* against_prefix = "against.";

void write_verdicts(HtmlPage& html, report::AgainstPage const& page) {
  HtmlTable const table =
      table_of(report::verdict_rows(page.prints), "As measured on single prints", against_prefix);
  if (table.rows.empty()) return html.paragraph(verdict_text(page));
  write_print_points(html.out(), page);
  write_table(html.out(), table);
  write_items(html.out(), report::verdict_reasons(page.prints));
}

}  // namespace

std::string verdict_text(report::AgainstPage const& page) {
  std::vector<std::string> words;
  for (report::NamedComparison const& row : report::named(page.prints)) {
    compare::Comparison const& c = *row.comparison;
    if (c.old_build.prints + c.new_build.prints == 0) continue;
    words.push_back(fmt::format("{} {}", row.name, report::in_words(c.verdict)));
  }
  if (words.empty()) return "No verdict: no single prints are given under [[measured]].";
  return fmt::format("Against the old build, by single prints: {}.", fmt::join(words, ", "));
}

void write_against(HtmlPage& html, report::AgainstPage const& page) {
  html.section("against", "Old build against new", "");
  write_items(
      html.out(),
      {report::build_heading("Old", page.old_build), report::build_heading("New", page.new_build)});
  write_verdicts(html, page);
  write_table(html.out(), table_of(report::against_rows(page), "", against_prefix));
}

}  // namespace meltlag::page
