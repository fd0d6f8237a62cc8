// SPDX-License-Identifier: MIT
#include "meltlag/page/comparison_page.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <string_view>
#include <vector>

using namespace meltlag;
using namespace meltlag::page;
using namespace meltlag::report;

namespace {

std::string written(ComparisonReport const& report) {
  std::string text;
  Out const out = [&](std::string_view piece) { text += piece; };
  write_page(out, report);
  return text;
}

bool page_holds(std::string const& text, std::string_view words) {
  return text.find(words) != std::string::npos;
}

compare::ComparedRow flow_row(double t_s) {
  compare::ComparedRow row;
  row.measured = {.kind = compare::MeasuredKind::flow, .at_mm = {}, .t_s = t_s};
  row.print_s = t_s;
  row.line = 1 + static_cast<std::int64_t>(t_s);
  row.predicted = 5 + std::sin(t_s);
  row.without_lag = row.asked = 5 + std::sin(t_s + 0.5);
  row.measured.value = row.predicted + 0.2 * std::sin(37 * t_s);
  row.tool_sd = 0.2;
  return row;
}

ComparisonReport flow_report(int rows) {
  compare::PrintComparison c;
  for (int i = 0; i < rows; ++i) c.rows.push_back(flow_row(0.1 * i));
  compare::KindSummary kind;
  kind.kind = compare::MeasuredKind::flow;
  kind.offs.count = c.rows.size();
  kind.share_explained = 0.8;
  kind.most_explainable = 0.9;
  c.kinds.push_back(kind);
  c.findings = {compare::Finding::as_expected};
  for (int i = 0; i < 1000; ++i)
    c.curve.push_back({.print_s = rows * 1e-4 * i, .line = 1, .predicted_mm3_s = 5});
  ComparisonReport report;
  report.version = "1";
  report.names = {.file = "part.gcode", .sheet = "flow.csv", .profile = "auger.toml"};
  report.comparison = std::move(c);
  report.profile = {"Bench auger", "title = 1"};
  return report;
}

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("a page of 20,000 measured rows stays small") {
    std::size_t const few = written(flow_report(10)).size();
    std::size_t const many = written(flow_report(20'000)).size();
    CHECK(many - few < 20'000 * 26);
  }

  TEST_CASE("the headline says what lag explains, and the most that it could") {
    ComparisonReport report = flow_report(10);
    std::string page = written(report);
    CHECK(page_holds(page, "80.0 %"));
    CHECK(page_holds(page, "at most 90.0 % can be"));
    report.comparison->kinds[0].most_explainable = 0.7;
    page = written(report);
    CHECK(page_holds(page, "as much as such measuring leaves to be explained (70.0 %)"));
    report.comparison->kinds[0].most_explainable = -0.1;
    CHECK(page_holds(written(report), "measuring itself leaves more than lag could explain"));
  }

  TEST_CASE("stretches that chance makes are not listed") {
    ComparisonReport report = flow_report(10);
    report.comparison->beads = {0, 0, 60, 60};
    compare::RowStretch stretch;
    stretch.kind = compare::MeasuredKind::flow;
    stretch.first_line = 7;
    stretch.last_line = 9;
    stretch.rows = 3;
    stretch.mean_off = -0.4;
    stretch.at_s = 200;
    stretch.at_mm = {31, 12, 0.3};
    stretch.layer = 4;
    stretch.weight = 5;
    report.comparison->worst = {stretch};
    std::string page = written(report);
    for (char const* words : {"flow too small",
                              ">7–9<",
                              ">3 min 20 s<",
                              ">4<",
                              "front centre, X 31 Y 12",
                              "\"first\":0"})
      CHECK_MESSAGE(page_holds(page, words), words);
    report.comparison->worst[0].weight = 1.9;
    page = written(report);
    CHECK(page_holds(page, "None stands out"));
    CHECK_FALSE(page_holds(page, "flow too small"));
    CHECK(page_holds(page, "\"worst\":[]"));
  }

  TEST_CASE("a page without a sheet has tables alone") {
    ComparisonReport report;
    report.version = "1";
    report.ticks = compare::Ticks{};
    report.ticks->rate.hits = 8;
    report.ticks->rate.of = 9;
    report.tick_sheet = "<ticks>.csv";
    std::string const page = written(report);
    CHECK(page_holds(page, ">8 of 9<"));
    CHECK(page_holds(page, "&lt;ticks&gt;.csv"));
    CHECK_FALSE(page_holds(page, "id=\"m-rest\""));
    CHECK_FALSE(page_holds(page, "id=\"profile\""));
  }
}
