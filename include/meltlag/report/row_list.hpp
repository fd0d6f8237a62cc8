// SPDX-License-Identifier: MIT
// Rows that the terminal and the page share.
#pragma once

#include <string>
#include <vector>

#include "meltlag/compare/verdict.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/causes.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

struct Cell {
  std::string text;
  std::string json = {};  // key of its number in the report's JSON, dots between; empty: none
};
struct RowList {
  std::vector<Column> columns;
  std::vector<std::vector<Cell>> rows;
};
// The table, header first.
[[nodiscard]] std::string to_text(RowList const& list);

// The machine as it is and after each change, the most helpful first. REQUIRES: page.now.
[[nodiscard]] RowList change_rows(CausesPage const& page);
// "longer tube: lag +3 ms" of those small changes that do anything.
[[nodiscard]] std::vector<std::string> small_changes(CausesPage const& page);

// "old: title (date): notes".
[[nodiscard]] std::string build_heading(char const* which, BuildRow const& row);
// What both builds come to, and by how much they differ.
[[nodiscard]] RowList against_rows(AgainstPage const& page);
// Verdicts from single prints, and why there is none where there is none.
[[nodiscard]] RowList verdict_rows(compare::BuildComparison const& prints);
[[nodiscard]] Sentences verdict_reasons(compare::BuildComparison const& prints);
// What was noted of a build, and where its lag comes from if not from a measurement; may be empty.
[[nodiscard]] std::string build_notes(BuildRow const& row);

}  // namespace meltlag::report
