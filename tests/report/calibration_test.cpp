// SPDX-License-Identifier: MIT
// What a fit and a plan say, in words and as JSON.
#include "meltlag/report/calibration.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <sstream>
#include <string>

#include "meltlag/report/table.hpp"

using namespace meltlag;
using namespace meltlag::report;
using fit::Extra;
using fit::FitResult;
using fit::RowVerdict;
using reading::ReadingKind;

namespace {

FitResult result() {
  FitResult fit;
  fit.law = {.run_on_mm3 = 2.494,
             .at_flow_mm3_s = 8,
             .flow_index = 0.57,
             .at_c = {},
             .activation_kj_mol = {}};
  fit.run_on_mm3 = {2.494, 0.25};
  fit.flow_index = {0.57, 0.1};
  fit.delivered_factor = {0.964, 0.019};
  fit.at_flows = {{{1, {0.76, 0.09}, {0.428, 0.052}},
                   {2.8, {1.4, 0.1}, {0.273, 0.027}},
                   {8, {2.494, 0.25}, {0.174, 0.029}}}};
  fit.extras = {{.extra = Extra::backlash, .taken = false, .tried = true, .value = {}},
                {.extra = Extra::reverse_factor,
                 .taken = true,
                 .tried = true,
                 .chance = 0.0012,
                 .value = {0.72, 0.044}},
                {.extra = Extra::pulsation, .value = {}}};
  fit.rows = {
      {.row = 1, .trace = "9", .ruler_mm = 29, .measured = 1.5, .predicted = 1.52, .sd = 0.1},
      {.row = 2, .trace = "4", .ruler_mm = 12, .measured = 0.6, .predicted = 0.9, .sd = 0.05}};
  fit.heights = {{"9", {0.31, 0.011}}};
  fit.readings = 20;
  fit.free_parameters = 4;
  fit.correlations = {"run-on and flow index: -0.85"};
  return fit;
}

bool holds(std::string const& text, std::string const& words) {
  return text.find(words) != std::string::npos;
}
// Line breaks within a paragraph do not matter.
std::string unwrapped(std::string text) {
  for (std::size_t at = 0; (at = text.find("\n  ", at)) != std::string::npos;)
    text.replace(at, 3, " ");
  return text;
}
std::string told(FitResult const& fit) { return unwrapped(to_text(fit, Details::left_out)); }

std::size_t widest_line(std::string const& text) {
  std::size_t widest = 0;
  std::istringstream lines(text);
  std::string line;
  std::getline(lines, line);  // all of the run-on and the lag stand in the first line, however long
  while (std::getline(lines, line)) widest = std::max(widest, shown_width(line));
  return widest;
}

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("the first line of a fit is the run-on and the lag at three flows, each with ±") {
    std::string const text = to_text(result(), Details::left_out);
    std::string const first = text.substr(0, text.find('\n'));
    CHECK(first ==
          "After a stop 2.49 ± 0.25 mm³ run on (from 8 mm³/s); "
          "lag 0.428 ± 0.052 s at 1, 0.273 ± 0.027 s at 2.8, 0.174 ± 0.029 s at 8 mm³/s.");
  }

  TEST_CASE("intervals of what cannot be negative are those of its logarithm") {
    // 2.494·e^(∓1.96·0.25/2.494) by hand.
    CHECK(holds(to_text(result(), Details::left_out), "2.05 to 3.04"));
    // 0.57 ∓ 1.96·0.1
    CHECK(holds(to_text(result(), Details::left_out), "0.37 to 0.77"));
  }

  TEST_CASE("what goes beyond the lag is said as taken, not asked for, or not shown") {
    std::string const text = told(result());
    CHECK(holds(text, "- reverse factor: 0.720 ± 0.044 of what a forward stroke fills"));
    CHECK(holds(text, "in 1.2 of 1000 cases"));
    CHECK(holds(text, "do not ask for: backlash or wind-up."));
    CHECK(holds(text, "not shown by this print: pulsation with the turn."));
  }

  TEST_CASE("readings that look wrong are named by row with what was measured and expected") {
    FitResult fit = result();
    CHECK_FALSE(holds(told(fit), "Readings to look at"));
    fit.rows[1].verdict = RowVerdict::looks_wrong;
    CHECK(holds(told(fit),
                "row 2, width at 12 mm of trace 4: measured 0.6 mm, the fit says 0.90 ± 0.05. "
                "Measure it again"));
    fit.rows[1].verdict = RowVerdict::queried;
    CHECK(holds(told(fit), "wrong trace or place"));
    fit.rows[1].verdict = RowVerdict::feed_trouble;
    CHECK(holds(told(fit), "that is the hopper, not the lag. Left out."));
    fit.rows[1].kind = ReadingKind::mass;
    CHECK(holds(told(fit), "row 2, mass: measured 0.6 g"));
    fit.rows[0].thin = true;
    CHECK(holds(told(fit), "counted with twice the error: row 1."));
    fit.rows[1].thin = true;
    CHECK(holds(told(fit), "counted with twice the error: rows 1, 2."));
  }

  TEST_CASE("whether it is enough is said, and what is not determined") {
    FitResult fit = result();
    CHECK(holds(told(fit), "Enough: the run-on is known to ± 10 %."));
    fit.run_on_mm3.sd = 0.5;
    fit.readings_for_ten_percent = 61;
    CHECK(holds(told(fit), "known to ± 20 %. Some 61 more readings"));
    CHECK(holds(told(fit), "some 60 more would halve it"));
    CHECK_FALSE(holds(told(fit), "not determined"));
    fit.not_determined = {"flow index"};
    CHECK(holds(told(fit), "The flow index is not determined by these readings"));
    fit.scatter = 1.8;
    CHECK(holds(told(fit), "scatter 1.8 times as much as calipers do"));
  }

  TEST_CASE("drift is said as unknown, none, or drift") {
    FitResult fit = result();
    CHECK(holds(told(fit), "is not known: it takes two readings on first and two on last copies"));
    fit.drift_known = true;
    fit.drift = {-0.02, 0.03};
    CHECK(holds(told(fit), "-2.0 ± 3.0 %. No drift"));
    fit.drift = {-0.12, 0.03};
    CHECK(holds(told(fit), "-12.0 ± 3.0 %. The feed drifts"));
  }

  TEST_CASE("details hold every reading, layer heights and strong correlations") {
    std::string const text = to_text(result(), Details::shown);
    CHECK(holds(text,
                "   2      4     12 width              0.600     0.900   0.050   -6.00    1.00"));
    CHECK(holds(text, "trace 9: 0.310 ± 0.011 mm"));
    CHECK(holds(text, "run-on and flow index: -0.85"));
    CHECK_FALSE(holds(to_text(result(), Details::left_out), "Every reading"));
    FitResult plain = result();
    plain.correlations.clear();
    CHECK(holds(to_text(plain, Details::shown), "No two unknowns are correlated"));
  }

  TEST_CASE("a fit and a plan fit 80 columns") {
    FitResult fit = result();
    fit.rows[1].verdict = RowVerdict::queried;
    fit.readings_for_ten_percent = 61;
    fit.scatter = 2;
    CHECK(widest_line(to_text(fit, Details::shown)) <= 80);
    fit::ReadingPlan plan;
    plan.chosen = 20;
    plan.expected = {{.run_on_mm3 = 1.8,
                      .flow_mm3_s = 4,
                      .flow_index = 0.6,
                      .run_on_sd_mm3 = 0.25,
                      .flow_index_sd = 0.11,
                      .lag_s = 0.27,
                      .lag_sd_s = 0.029}};
    std::string const text = to_text(plan);
    CHECK(widest_line(text) <= 80);
    CHECK(holds(text, "first 20 rows"));
    CHECK(
        holds(text, "1.8 mm³ of run-on at 4 mm³/s             ± 0.25  0.270 ± 0.029       ± 0.11"));
  }

  TEST_CASE("a fit as JSON has every estimate with its deviation, and every row's verdict") {
    FitResult fit = result();
    fit.rows[1].verdict = RowVerdict::feed_trouble;
    fit.drift_known = true;
    fit.drift = {0.01, 0.03};
    nlohmann::json const json = to_json(fit);
    CHECK(json["run_on_mm3"]["value"] == 2.494);
    CHECK(json["run_on_mm3"]["sd"] == 0.25);
    CHECK(json["at_flow_mm3_s"] == 8);
    CHECK(json["lag"].size() == 3);
    CHECK(json["lag"][2]["lag_s"]["sd"] == 0.029);
    CHECK(json["beyond_the_lag"][1]["estimate"]["value"] == 0.72);
    CHECK_FALSE(json["beyond_the_lag"][0].contains("estimate"));
    CHECK(json["rows"][0]["verdict"] == "fine");
    CHECK(json["rows"][1]["verdict"] == "feed trouble");
    CHECK(json["layer_heights"][0]["mm"]["value"] == 0.31);
    CHECK(json["drift_share"]["sd"] == 0.03);
    CHECK_FALSE(to_json(result()).contains("drift_share"));
  }
}
