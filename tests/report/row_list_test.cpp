// SPDX-License-Identifier: MIT
#include "meltlag/report/row_list.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace meltlag;
using namespace meltlag::report;

namespace {

CausesPage page_with_changes(std::vector<double> const& lag_changes_s) {
  CausesPage page{};
  page.now = ChangeRow{melt::Change{.name = "as it is", .lag_s = 0.2}};
  for (double const change : lag_changes_s)
    page.changes.push_back({melt::Change{
        .name = std::to_string(change), .lag_s = 0.2 + change, .lag_change_s = change}});
  return page;
}

}  // namespace

TEST_SUITE("report") {
  TEST_CASE("what would help most comes first, and its keys are those of the page's JSON") {
    RowList const list = change_rows(page_with_changes({-0.01, -0.08, -0.03}));
    REQUIRE(list.rows.size() == 4);
    CHECK(list.rows[1][2].text == "-80 ms");
    CHECK(list.rows[1][2].json == "changes.1.lag_change_s");
    CHECK(list.rows[2][2].text == "-30 ms");
    CHECK(list.rows[3][2].json == "changes.0.lag_change_s");
    for (auto const& row : list.rows) CHECK(row.size() == list.columns.size());
  }

  TEST_CASE("prints of one build alone have no difference") {
    compare::BuildComparison prints{};
    prints.run_on_mm3.old_build = {.prints = 3, .mean = 2, .sd = 0.1};
    RowList const list = verdict_rows(prints);
    REQUIRE(list.rows.size() == 1);
    CHECK(list.rows[0][1].text == "2.00 ± 0.10 (3)");
    CHECK(list.rows[0][1].json == "prints.run-on.old.mean");
    CHECK(list.rows[0][2].text == "none");
    CHECK(list.rows[0][2].json.empty());
    CHECK(list.rows[0][3].text.empty());
  }

  TEST_CASE("± and interval share their last digit, tens where the deviation is above 100") {
    CHECK(plus_minus(1234, 123) == "1230 ± 120");
    CHECK(range(1001, 1467, 123) == "1000 to 1470");
    CHECK(plus_minus(2.494, 0.25) == "2.49 ± 0.25");
    CHECK(range(2.05, 3.037, 0.25) == "2.05 to 3.04");
    CHECK(plus_minus(2.494, 0) == "2.49");
  }
}
