// SPDX-License-Identifier: MIT
// Measured against predicted, as tables and in words.
#pragma once

#include <iosfwd>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "meltlag/compare/comparison.hpp"
#include "meltlag/report/out.hpp"

namespace meltlag::report {

// Names that the reading says to type.
struct ComparisonNames {
  std::string file, sheet, profile;
};

// Summary, worst stretches and a reading that names what to do next; lines of at most 80 columns.
[[nodiscard]] std::string to_text(compare::PrintComparison const& comparison,
                                  ComparisonNames const& names);
// What one finding means and what to do, one sentence or more.
[[nodiscard]] std::string finding_text(compare::Finding finding,
                                       compare::PrintComparison const& comparison,
                                       ComparisonNames const& names);
// Every number but the rows', units in the keys; the curve too.
[[nodiscard]] nlohmann::json summary_json(compare::PrintComparison const& comparison,
                                          ComparisonNames const& names);
// Writes `page`, whose "comparison" is a summary, with a line for each row put into it: what it
// takes does not grow with the rows.
void write_json(Out const& out, nlohmann::json page, compare::PrintComparison const& comparison);
// One row for each measured row: kind, line, to_line, at_mm, t_s, print_s, x_mm, y_mm, z_mm, unit,
// measured, predicted, without_lag, asked, off, off_percent, expected_sd, as_expected, stage.
void write_csv(std::ostream& out, compare::PrintComparison const& comparison);

}  // namespace meltlag::report
