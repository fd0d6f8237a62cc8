// SPDX-License-Identifier: MIT
#include "meltlag/page/cause_pages.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "melt/bench_auger.hpp"
#include "page/written_page.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::page;
using namespace meltlag::report;
using meltlag_test::bench_auger;
using meltlag_test::count;
using meltlag_test::page_text;

namespace {

// The number that stands after `words` from `from` on.
double number_after(std::string const& text, std::string_view words, std::size_t from = 0) {
  std::size_t const at = text.find(words, from);
  REQUIRE(at != std::string::npos);
  return std::stod(text.substr(at + words.size()));
}

CausesReport causes_report() {
  melt::Machine const machine = bench_auger();
  CausesReport report{.version = "1",
                      .causes = {.title = "Bench auger",
                                 .file = "",
                                 .at_flow_mm3_s = 5,
                                 .causes = melt::find_causes(machine, {}, 5)},
                      .against = {},
                      .barrel = machine.barrel,
                      .nozzle = machine.nozzle,
                      .profiles = {{"Bench auger", "title = 1"}}};
  return report;
}

BuildRow build(std::string const& title, double run_on_mm3) {
  return {.title = title,
          .path = "",
          .date = "",
          .notes = "",
          .lag_from = LagFrom::measured,
          .run_on_mm3 = {run_on_mm3, 0.3},
          .lags = {{{1, {0.8, 0.1}}, {5, {0.6, 0.06}}, {10, {0.5, 0.06}}}},
          .prints = {}};
}

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("the stacked causes are as wide as their shares") {
    CausesReport const report = causes_report();
    std::string const page = page_text(report);
    std::size_t const bars = page.find("aria-label=\"Run-on by cause");
    REQUIRE(bars != std::string::npos);
    melt::Causes const& causes = *report.causes.causes;
    std::size_t at = page.find("<rect", bars);
    double const bracket = number_after(page, "width=\"", at);
    double const next = number_after(page, "width=\"", page.find("<rect", at + 1));
    std::vector<double> shares;
    for (melt::Cause const& cause : causes.causes) shares.push_back(cause.share.value);
    std::sort(shares.begin(), shares.end(), std::greater<>{});
    CHECK_CLOSE(bracket / next, shares[0] / shares[1], 1e-3);
    CHECK(page.find("Weak point: printed bracket") != std::string::npos);
  }

  TEST_CASE("two causes that the ± cannot part are two weak points, and steps are compared alike") {
    CausesReport report = causes_report();
    auto& causes = report.causes.causes->causes;
    for (melt::Cause& cause : causes) cause.share = {0.05, 0.01};
    causes[0].share = {0.48, 0.06};
    causes[1].share = {0.39, 0.06};
    CHECK(page_text(report).find("Two weak points about equal") != std::string::npos);
    causes[1].share = {0.30, 0.06};
    CHECK(page_text(report).find("Weak point: ") != std::string::npos);
    melt::WhatIf const what{
        .machine = bench_auger(), .measured = {}, .at_flow_mm3_s = 5, .melt_c = {}};
    for (melt::Change const& change : melt::plain_changes(what))
      report.causes.changes.push_back({change, std::nullopt});
    std::string const page = page_text(report);
    CHECK(page.find("Of work on the parts this helps most: printed bracket twice as stiff, lag ") !=
          std::string::npos);
    CHECK(page.find("(if it were rigid, ") != std::string::npos);
    CHECK(page.find("Of the other steps: nozzle of 1.2 mm, lag ") != std::string::npos);
  }

  TEST_CASE("the barrel is drawn to one scale across and along") {
    std::string const page = page_text(causes_report());
    std::size_t const at = page.find("<svg class=\"barrel\"");
    REQUIRE(at != std::string::npos);
    // 18 mm of 12 mm bore and the screw's core of 9 mm in it
    std::size_t const melt = page.find("style=\"fill:var(--share-1)\"", page.find("</defs>", at));
    std::size_t const rect = page.rfind("<rect", melt);
    double const across = number_after(page, "width=\"", rect);
    double const along = number_after(page, "height=\"", rect);
    CHECK_CLOSE(along / across, 18.0 / 12, 1e-3);
    std::size_t const core = page.rfind("<rect", page.find("stroke-width:.7", melt));
    CHECK_CLOSE(number_after(page, "width=\"", core) / across, 9.0 / 12, 1e-3);
    CHECK(page.find("tip gap") != std::string::npos);
  }

  TEST_CASE("a page without parts says what is missing and draws no barrel") {
    CausesReport report = causes_report();
    report.causes.causes.reset();
    report.causes.missing = {"[barrel] sections"};
    report.barrel.reset();
    std::string const page = page_text(report);
    CHECK(page.find("without [barrel] sections") != std::string::npos);
    CHECK(page.find("<svg") == std::string::npos);
  }

  TEST_CASE("each build has a point in each trend that it is known for") {
    BuildsReport report{.version = "1",
                        .builds = {.at_flow_mm3_s = 5, .builds = {build("a", 5), build("b", 2)}},
                        .profiles = {}};
    report.builds.builds[1].residence_s = 200;
    std::string const page = page_text(report);
    CHECK(count(page, "<circle") ==
          2 + 3 * 2 + 1);  // run-on, three lags, residence time; no blob, no gap
    CHECK(count(page, "<figcaption>") == 3);
    // Five above two: further up, on an axis from 0.
    std::size_t const first = page.find("<circle");
    double const higher = number_after(page, "cy=\"", first);
    double const lower = number_after(page, "cy=\"", page.find("<circle", first + 1));
    CHECK(higher < lower);
  }
}
