// SPDX-License-Identifier: MIT
// The page of `compare`: measured over predicted, off by, the worst stretches; scale, clock and
// ticks as tables.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/compare/comparison.hpp"
#include "meltlag/compare/part_mass.hpp"
#include "meltlag/compare/print_time.hpp"
#include "meltlag/compare/ticks.hpp"
#include "meltlag/page/cause_pages.hpp"
#include "meltlag/page/html.hpp"
#include "meltlag/report/comparison.hpp"

namespace meltlag::page {

// What `compare` found, each part where it was asked for.
struct ComparisonReport {
  std::string version;
  report::ComparisonNames names;
  std::string original;    // empty: what is wanted is read from the printed file
  std::string tick_sheet;  // its name
  std::optional<compare::PrintComparison> comparison;
  std::vector<std::string> remarks;  // of the sheet, or of the picture
  bool by_picture = false;           // widths come from one
  compare::Tools tools;
  std::optional<compare::PartMass> mass;
  std::optional<compare::TimeCheck> time;
  motion::Limits limits = {};  // those of `time`
  std::optional<compare::Ticks> ticks;
  std::vector<Notice> notices;
  std::optional<ProfileText> profile;
};
void write_page(Out const& out, ComparisonReport const& report);

}  // namespace meltlag::page
