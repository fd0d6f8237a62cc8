// SPDX-License-Identifier: MIT
#include "meltlag/report/feed.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

using namespace meltlag;
using fit::StoreLevel;
using fit::StoreVerdict;

namespace {

report::FeedTable table() {
  report::FeedTable table{.verdict = {}, .options = {.density_g_cm3 = 1.24}};
  fit::FeedVerdict& v = table.verdict;
  v.cups = 12;
  v.delivered_factor = 0.91;
  v.resolved = 0.05;
  v.scatter = 0.01;
  v.fed_mm3_s = 7.3;
  v.flows = {{.flow_mm3_s = 4, .cups = 4, .delivered_factor = 0.91, .plus_minus = 0.01},
             {.flow_mm3_s = 8, .cups = 4, .delivered_factor = 0.91, .plus_minus = 0.01}};
  return table;
}

StoreVerdict store(StoreLevel level, double low, double high) {
  return {.level = level,
          .cups = 10,
          .burst_mm3 = 1.5,
          .low_mm3 = low,
          .high_mm3 = high,
          .sd_mm3 = 0.1,
          .scatter = 0.012};
}

bool text_holds(std::string const& text, std::string_view words) {
  return text.find(words) != std::string::npos;
}

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("what the screw feeds for long is reported with its ±, and which cups starve") {
    report::FeedTable starving = table();
    starving.verdict.starvation = fit::Starvation{
        .max_flow_mm3_s = 8.21, .plus_minus = 0.07, .sd = 0.03, .test = {.statistic = 90, .p = 0}};
    starving.verdict.flows.push_back({.flow_mm3_s = 16,
                                      .cups = 4,
                                      .delivered_factor = 0.51,
                                      .plus_minus = std::nan(""),
                                      .starves = true});
    std::string const text = report::to_text(starving);
    CHECK(text_holds(text, "Fed for long       8.21 ± 0.07 mm³/s at most: above it cups starve\n"));
    CHECK(text_holds(text, "starves\n"));
    CHECK(text_holds(text, "are those of the cups that do not"));
    CHECK(text_holds(text, "--limits measures it"));
    starving.options.burst_mm3 = 1.5;
    CHECK_FALSE(text_holds(report::to_text(starving), "--limits measures it"));
    nlohmann::json const json = report::to_json(starving);
    CHECK(json["fed_for_long"]["max_flow_mm3_s"] == 8.21);
    CHECK(json["flows"][2]["starves"] == true);
    CHECK(json["flows"][2]["plus_minus"].is_null());
    CHECK(text_holds(report::criteria_text(starving), "starve F 90.00"));
  }

  TEST_CASE("where no cup starved that is reported, and where it cannot be determined that too") {
    report::FeedTable fed = table();
    CHECK(text_holds(report::to_text(fed), "no cup starved up to 8 mm³/s: max_flow_mm3_s is at\n"));
    CHECK(text_holds(report::to_text(fed), " least 7.3\n"));
    CHECK_FALSE(report::to_json(fed)["fed_for_long"].contains("max_flow_mm3_s"));
    fed.verdict.may_starve = true;
    CHECK(text_holds(report::to_text(fed), "cannot tell; max_flow_mm3_s is at least 7.3"));
    CHECK(text_holds(report::to_text(fed), "Cups at 8 mm³/s fall short"));
    CHECK(text_holds(report::to_text(fed), "at 12 mm³/s would tell"));
  }

  TEST_CASE("the store is reported in one of four ways, within 80 columns") {
    constexpr double infinite = std::numeric_limits<double>::infinity();
    std::string const told = report::to_text(store(StoreLevel::told, 1.3, 1.7));
    CHECK(told.starts_with(
        "Stands ready for a burst: 1.50 mm³ (95 % of chances: 1.30 to 1.70)\n10 cups"));
    CHECK(text_holds(told, "scatter by 1.2 %"));
    CHECK(text_holds(report::to_text(store(StoreLevel::none_seen, 0, 0.2)),
                     "no more than 0.20 mm³, perhaps nothing"));
    CHECK(text_holds(report::to_text(store(StoreLevel::at_least, 7.1, infinite)),
                     "at least 7.10 mm³"));
    std::string const open = report::to_text(store(StoreLevel::cannot_tell, 0.4, infinite));
    CHECK(text_holds(open, "cannot tell, from 0.40 mm³ to no end"));
    CHECK(text_holds(open, "--bursts"));
    CHECK(report::to_json(store(StoreLevel::at_least, 7.1, infinite))["high_mm3"].is_null());
    CHECK(report::to_json(store(StoreLevel::cannot_tell, 0, 3))["level"] == "cannot tell");
  }

  TEST_CASE("bursts by ear give the most in a burst, not what is fed for long") {
    fit::ScrewLimits limits;
    limits.passed_forward_mm3_s = 20;
    limits.max_burst_mm3_s = 18.2;
    CHECK(text_holds(report::to_text(limits), "bursts   up to 18.2 mm³/s, delivered"));
    CHECK(report::to_json(limits)["max_burst_mm3_s"] == 18.2);
    CHECK_FALSE(report::to_json(limits).contains("max_flow_mm3_s"));
  }
}
