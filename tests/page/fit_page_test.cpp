// SPDX-License-Identifier: MIT
#include "meltlag/page/fit_page.hpp"

#include <doctest/doctest.h>

#include <string>

#include "meltlag/page/feed_page.hpp"
#include "page/written_page.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::page;
using meltlag_test::count;
using meltlag_test::page_text;

namespace {

// Two straight beads of 20 mm, one above the other.
reading::PrintedPath two_beads() {
  Notices notices;
  return reading::read_path(
      gcode::LineSource::from_text("M83\nG1 X10 Y10 Z0.3 F1200\nG1 X30 E1\nG1 Y14\nG1 X10 E1\n",
                                   "TEST.gcode"),
      {.slicer_diameter_mm = 1.75, .limits = {}},
      notices);
}

reading::Reading width(int row, std::int64_t line, double at_mm, double value) {
  reading::Reading reading;
  reading.row = row;
  reading.trace = line == 3 ? "1" : "2";
  reading.value = value;
  reading.ruler_mm = at_mm;
  reading.lines = {line};
  reading.at_mm = {at_mm};
  return reading;
}

fit::RowOutcome outcome(reading::Reading const& reading, double predicted, double counted = 1) {
  fit::RowOutcome row;
  row.row = reading.row;
  row.trace = reading.trace;
  row.ruler_mm = reading.ruler_mm;
  row.measured = *reading.value;
  row.predicted = predicted;
  row.sd = 0.02;
  row.counted = counted;
  return row;
}

fit::FitResult fit_result() {
  fit::FitResult fit;
  fit.law = {.run_on_mm3 = 4, .at_flow_mm3_s = 5, .flow_index = 0.6};
  fit.run_on_mm3 = {4, 0.4};
  fit.flow_index = {0.6, 0.05};
  fit.delivered_factor = {0.95, 0.01};
  fit.run_on_index_correlation = -0.5;
  for (std::size_t i = 0; i < 3; ++i)
    fit.at_flows[i] = fit::at_flow(fit, 2 + 3.0 * static_cast<double>(i));
  fit.readings = 3;
  return fit;
}

struct Fitted {
  reading::PrintedPath path = two_beads();
  std::vector<reading::Reading> readings = {
      width(1, 3, 5, 1.00), width(2, 3, 15, 1.00), width(3, 5, 5, 1.00)};
  fit::FitResult fit = fit_result();
  Fitted() {
    fit.rows = {outcome(readings[0], 1.00),         // as fitted
                outcome(readings[1], 1.08),         // narrower
                outcome(readings[2], 0.5, 0.001)};  // left out
  }
  [[nodiscard]] std::string text() const {
    return page_text(FitPage{.file = "TEST.gcode",
                             .sheet = "<SHEET>.csv",
                             .version = "1",
                             .fit = fit,
                             .path = path,
                             .readings = readings});
  }
};

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("places lie on their beads in the colour of what they are off by") {
    std::string const page = Fitted().text();
    std::size_t const piece = page.find("<figure class=\"alone piece\"");
    REQUIRE(piece != std::string::npos);
    std::string const svg = page.substr(piece, page.find("</svg>", piece) - piece);
    // Both beads, then a stroke of 3 mm about each place; y points up.
    CHECK(count(svg, "d=\"M10.00 -10.00L30.00 -10.00M30.00 -14.00L10.00 -14.00\"") == 1);
    CHECK(count(svg, "d=\"M13.50 -10.00L16.50 -10.00\" style=\"stroke:var(--middle)") == 1);
    CHECK(count(svg, "d=\"M23.50 -10.00L26.50 -10.00\" style=\"stroke:var(--thin)") == 1);
    CHECK(count(svg, "d=\"M26.50 -14.00L23.50 -14.00\" style=\"stroke:var(--mark)") == 1);
    CHECK(count(svg, "var(--thick)") == 0);
  }

  TEST_CASE("the ellipse is as wide as the ± says and names from files stay text") {
    std::string const page = Fitted().text();
    CHECK(count(page, "&lt;SHEET&gt;.csv") > 0);
    CHECK(count(page, "<SHEET>") == 0);
    // 2.45 of 3.2 deviations on each side of the middle of 12 … 97 %.
    std::size_t const ellipse = page.find("aria-label=\"Run-on and flow index together\"");
    REQUIRE(ellipse != std::string::npos);
    double left = 100, right = 0;
    for (std::size_t at = ellipse; (at = page.find("<line x1=\"", at)) != std::string::npos; ++at) {
      if (at > page.find("</svg>", ellipse)) break;
      std::size_t const end = page.find("/>", at);
      if (page.substr(at, end - at).find("--share-1") == std::string::npos) continue;
      double const x = std::stod(page.substr(at + 10));
      left = std::min(left, x);
      right = std::max(right, x);
    }
    CHECK_NEAR(left, 54.5 - 42.5 * 2.45 / 3.2, 0.01 /*%*/);
    CHECK_NEAR(right, 54.5 + 42.5 * 2.45 / 3.2, 0.01 /*%*/);
  }

  TEST_CASE(
      "a page of widths off a picture has a chart for each ring, and gaps where none was read") {
    Fitted fitted;
    fitted.fit.dense = fit::DenseOutcome{};
    std::string const page = fitted.text();
    CHECK(count(page, "id=\"ring-1\"") == 1);
    CHECK(count(page, "id=\"ring-2\"") == 1);
    CHECK(count(page, "id=\"ring-3\"") == 0);
    CHECK(count(page, "data-json=\"picture.wander_share\"") == 1);
  }

  TEST_CASE("what to measure next depends on what is not known") {
    Fitted fitted;
    fitted.fit.run_on_mm3.sd = 1;
    fitted.fit.readings_for_ten_percent = 17;
    fitted.fit.delivered_factor.sd = 0.03;
    fitted.fit.rows[1].verdict = fit::RowVerdict::looks_wrong;
    std::string const page = fitted.text();
    for (char const* words : {"17 more readings", "Weigh cups", "Measure again: row 2."})
      CHECK_MESSAGE(count(page, words) > 0, words);
    CHECK(count(Fitted().text(), "Weigh cups") == 0);
  }

  TEST_CASE("cups stand on the page as shares of what was asked for") {
    fit::FeedVerdict verdict;
    verdict.cups = 2;
    verdict.flows = {{.flow_mm3_s = 4, .cups = 1, .delivered_factor = 0.9, .plus_minus = 0.02},
                     {.flow_mm3_s = 8, .cups = 1, .delivered_factor = 0.8, .plus_minus = 0.03}};
    verdict.delivered_factor = 0.85;
    FeedPage const page{.version = "1",
                        .cups = FeedPage::Cups{{verdict, {.density_g_cm3 = 1.25}},
                                               {{1, 4, 240, 0.27, 0}, {2, 8, 480, 0.48, 1}}},
                        .limits = {},
                        .store = {},
                        .remarks = {"cups.csv: a column was guessed."},
                        .profile_title = "Bench auger",
                        .profile_text = "title = 1"};
    std::string const text = page_text(page);
    CHECK(count(text, "data-json=\"feed.flows.1.delivered_factor\">0.800<") == 1);
    CHECK(count(text, "id=\"cups\"") == 1);
    CHECK(count(text, "a column was guessed") == 1);
    CHECK(count(text, "id=\"limits\"") == 0);
  }
}
