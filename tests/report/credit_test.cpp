// SPDX-License-Identifier: MIT
#include "meltlag/report/credit.hpp"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "meltlag/page/path_page.hpp"
#include "meltlag/report/table.hpp"
#include "meltlag/report/trade.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::page;
using namespace meltlag::report;

namespace {

judge::PrintMetrics misplacing(double share) {
  judge::PrintMetrics figure;
  figure.wanted_mm3 = 200;
  figure.misplaced_mm3 = 200 * share;
  figure.path_s = figure.planned_s = 60;
  return figure;
}

MetricsTable three(double as_sliced, double flow_set_right, double adapted) {
  return {.as_sliced = misplacing(as_sliced),
          .flow_set_right = misplacing(flow_set_right),
          .adapted = misplacing(adapted),
          .delivered_factor = 0.91};
}

std::size_t widest_credit_line(std::string const& text) {
  std::size_t widest = 0;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) widest = std::max(widest, shown_width(line));
  return widest;
}

std::size_t count_of(std::string const& text, std::string const& what) {
  std::size_t count = 0;
  for (std::size_t at = 0; (at = text.find(what, at)) != std::string::npos; ++at) ++count;
  return count;
}

std::string page_of(MetricsTable const& table) {
  std::string text;
  Out const out = [&](std::string_view piece) { text += piece; };
  PathPage page;
  page.command = "adapt";
  page.figures = table;
  PathRecord path;
  path.finish();
  write_page(out, page, path);
  return text.substr(text.find("<main"));
}

double sum_of(Credit const& c) { return c.flow_setting + c.screw + c.time.value_or(0) + c.left; }

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("what is misplaced as sliced is shared out whole") {
    for (double const adapted : {0.03, 0.095, 0.2}) {
      MetricsTable table = three(0.185, 0.095, adapted);
      auto const unpaced = credit_of(table);
      REQUIRE(unpaced);
      CHECK_NEAR(unpaced->flow_setting, 0.09, 1e-12);
      CHECK_NEAR(unpaced->screw, 0.095 - adapted, 1e-12);
      CHECK_NEAR(unpaced->left, adapted, 1e-12);
      CHECK_FALSE(unpaced->time);
      CHECK_NEAR(sum_of(*unpaced), 0.185, 1e-12);
      table.saved_by_time = 0.01;
      auto const paced = credit_of(table);
      REQUIRE(paced);
      CHECK_NEAR(paced->screw, 0.085 - adapted, 1e-12);
      CHECK_NEAR(sum_of(*paced), 0.185, 1e-12);
    }
  }

  TEST_CASE("a flow setting that makes it worse is no gain of the screw's") {
    auto const credit = credit_of(three(0.05, 0.08, 0.06));
    REQUIRE(credit);
    CHECK_NEAR(credit->flow_setting, -0.03, 1e-12);
    CHECK_NEAR(credit->screw, 0.02, 1e-12);
    CHECK_NEAR(sum_of(*credit), 0.05, 1e-12);
  }

  TEST_CASE("credit is claimed against the flow setting alone") {
    CHECK(verdict(three(0.185, 0.1, 0.07)).find(" 30 % ") != std::string::npos);
    CHECK(verdict(three(0.185, 0.1, 0.1)).find("not better") != std::string::npos);
    CHECK(verdict(three(0.185, 0.1, 0.145)).find("worse") != std::string::npos);
    CHECK(better_than_flow_setting(three(0.185, 0.1, 0.07)));
    CHECK_FALSE(better_than_flow_setting(three(0.185, 0.1, 0.1)));
    CHECK_FALSE(better_than_flow_setting(three(0.185, 0.1, 0.145)));
  }

  TEST_CASE("nothing is claimed where a column is missing or ends early") {
    MetricsTable table = three(0.185, 0.1, 0.07);
    table.parted = true;
    MetricsTable alone{.as_sliced = misplacing(0.1)};
    for (MetricsTable const& none : {table, alone}) {
      CHECK_FALSE(credit_of(none));
      CHECK(verdict(none).empty());
      CHECK_FALSE(better_than_flow_setting(none));
    }
    CHECK_FALSE(credit_of(three(0, 0, 0)));
    CHECK(verdict(MetricsTable{.as_sliced = {}, .flow_set_right = {{}}, .adapted = {{}}}).empty());
  }

  TEST_CASE("a file that asks for more than the screw feeds is given a speed that it can follow") {
    MetricsTable table = three(0.185, 0.1, 0.07);
    table.max_flow_mm3_s = 8.2;
    table.flow_set_right->peak_print_mm3_s = 11.1;
    table.flow_set_right->starved_mm3 = 0.99;  // of 200
    CHECK_FALSE(overload_of(table));
    CHECK(opening(table).empty());
    table.flow_set_right->starved_mm3 = 1.01;
    CHECK(opening(table).find(" 73 %") < opening(table).find('\n'));
    table.flow_set_right->fed_speed_mm_s = 17.38;
    table.flow_set_right->starved_line = 123456;
    auto const overload = overload_of(table);
    REQUIRE(overload);
    CHECK(overload->speed_limit_share * 11.1 <= 8.2 + 1e-12);
    std::string const text = opening(table);
    std::string const first = text.substr(0, text.find('\n'));
    CHECK(first.find("from line 123456 on") != std::string::npos);
    CHECK(first.find(" 17 mm/s") != std::string::npos);
    CHECK(text.find(" 73 %") != std::string::npos);
    CHECK(widest_credit_line(text) <= 80);
    CHECK(page_of(table).find(" 73&nbsp;%") < page_of(table).find("class=\"big"));
    CHECK(page_of(table).find("17 mm/s") < page_of(table).find("class=\"big"));
    CHECK_NEAR(to_json(table)["asks_for_too_much"]["speed_limit_share"], 8.2 / 11.1, 1e-12);
    table.max_flow_mm3_s.reset();
    CHECK_FALSE(overload_of(table));
  }

  TEST_CASE("the summary has three columns, strings and what was turned in vain, in 80 columns") {
    MetricsTable table = three(0.185, 0.095, 0.024);
    table.saved_by_time = 0.011;
    table.adapted->strings = 12345;
    table.adapted->string_total_mm3 = 250.25;
    table.adapted->string_longest_mm = 61.5;
    table.flow_set_right->starved_mm3 = 3.21;
    std::string const text = to_text(table);
    CHECK(widest_credit_line(text) <= 80);
    for (char const* shown : {"18.5 %", "9.5 %", "2.4 %", "250.2 mm³", "61.5 mm", "3.2 mm³"})
      CHECK(text.find(shown) != std::string::npos);
    CHECK(text.find("flow setting 9.0, screw 6.0, time 1.1; left 2.4") != std::string::npos);
    CHECK(text.find("109.9 %") != std::string::npos);
    auto const json = to_json(table);
    CHECK_NEAR(json["misplaced_shares"]["screw_share"], 0.06, 1e-12);
    CHECK(json["better_than_flow_set_right"] == true);
  }

  TEST_CASE("the page shows three columns, and a bar without what takes nothing away") {
    std::string const better = page_of(three(0.185, 0.095, 0.07));
    for (char const* side : {"as_sliced", "flow_set_right", "adapted"}) {
      std::string const key = std::string("data-json=\"") + side + ".";
      CHECK(count_of(better, key + "string_total_mm3\"") == 1);
      CHECK(count_of(better, key + "starved_mm3\"") == 1);
    }
    CHECK(count_of(better, "style=\"flex:") == 3);
    CHECK(count_of(better, "class=\"warning\"") == 0);
    CHECK(better.find(">9.0 points, 49 %<") != std::string::npos);
    std::string const worse = page_of(three(0.185, 0.095, 0.145));
    CHECK(count_of(worse, "style=\"flex:") == 2);
    CHECK(count_of(worse, "class=\"warning\"") == 1);
    CHECK(worse.find(">-5.0 points, -27 %: worse<") != std::string::npos);
  }

  TEST_CASE("the time table says from which grant on it beats the flow setting") {
    TradeTable table{.as_sliced = misplacing(0.185),
                     .flow_set_right = misplacing(0.095),
                     .rows = {{.granted = 0, .figure = misplacing(0.12)},
                              {.granted = 0.05, .figure = misplacing(0.1)},
                              {.granted = 0.1, .figure = misplacing(0.06)}}};
    CHECK(where_it_beats_the_flow_setting(table).find("+10 %") != std::string::npos);
    std::string const text = to_text(table);
    CHECK(widest_credit_line(text) <= 80);
    CHECK(text.find("\nflow set right ") != std::string::npos);
    CHECK_NEAR(to_json(table)["flow_set_right"]["misplaced_share"], 0.095, 1e-12);
    table.rows[0].figure = misplacing(0.07);
    CHECK(where_it_beats_the_flow_setting(table).empty());
    table.flow_set_right = misplacing(0.01);
    CHECK(where_it_beats_the_flow_setting(table).find("No row") != std::string::npos);
  }
}
