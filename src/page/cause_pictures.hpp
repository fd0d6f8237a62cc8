// SPDX-License-Identifier: MIT
// Pictures of the page of `causes`.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "meltlag/page/html.hpp"
#include "meltlag/report/builds.hpp"
#include "meltlag/report/causes.hpp"

namespace meltlag::page {

// Causes of one or two builds by name: each keeps its letter and
// share_colour() all over the page.
class CauseNames {
 public:
  // Adds the causes of a build, the largest first.
  void add(melt::Causes const& causes);
  [[nodiscard]] std::size_t index(melt::Cause const& cause) const;

 private:
  std::vector<std::string> names_;
};

// Indices of `causes.causes`, the largest run-on first.
[[nodiscard]] std::vector<std::size_t> largest_first(melt::Causes const& causes);

// A bar of run-on: stacked causes, or one measured value.
struct RunOnBar {
  std::string name;
  melt::Causes const* causes;               // nullptr: measured
  std::optional<melt::Uncertain> measured;  // where `causes` is nullptr
};
void write_run_on_bars(Out const& out, std::vector<RunOnBar> const& bars, CauseNames const& names);

// How long the plastic of a print was hot.
void write_residence_histogram(Out const& out, report::ResidencePage const& page);

// Each print on the old and the new build as a point.
void write_print_points(Out const& out, report::AgainstPage const& page);

}  // namespace meltlag::page
