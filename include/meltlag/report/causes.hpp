// SPDX-License-Identifier: MIT
// Where the lag comes from and what would help, as text and JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/base/diagnostic.hpp"
#include "meltlag/compare/print_residence.hpp"
#include "meltlag/melt/back_leak.hpp"
#include "meltlag/melt/causes.hpp"
#include "meltlag/melt/changes.hpp"
#include "meltlag/melt/heat_barrier.hpp"
#include "meltlag/melt/residence_time.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

// A machine after a change, and what a file comes to on it as sliced.
struct ChangeRow {
  melt::Change change;
  std::optional<double> misplaced_share = {};
};

struct ResidencePage {
  melt::ResidenceFacts facts;
  std::optional<double> longest_residence_s;  // that the material bears
  // Over a given print.
  std::optional<compare::PrintResidence> print;
  double melt_volume_mm3;
};

struct BarrierPage {
  melt::HeatBarrier barrier;
  melt::BarrierState working, resting;
  melt::BarrierSpread spread;  // at the working flow
  double sections_mm3;         // melt below the tube, computed
  std::optional<double> measured_melt_mm3;
};

struct CausesPage {
  std::string title;
  std::string file;  // the print, where one was given
  double at_flow_mm3_s;
  std::vector<std::string> missing;  // keys without which the parts say nothing
  std::optional<melt::Causes> causes;
  std::optional<melt::MeasuredLag> measured;
  std::optional<melt::Finding> finding;
  std::optional<ChangeRow> now;
  std::vector<ChangeRow> changes;
  std::vector<melt::Change> small_changes;
  std::optional<melt::BackLeak> back_leak;
  std::optional<ResidencePage> residence;
  std::optional<BarrierPage> barrier;
  std::vector<std::string> barrier_lacks;  // keys that the tube needs too
  std::vector<Notice> notices;
};

// "|AAAAAAAABBC|": a letter for each cause, as wide as its share; every share above 0 shows.
[[nodiscard]] std::string bar_of_shares(std::vector<double> const& shares, std::size_t width);

// At most 80 columns.
[[nodiscard]] std::string to_text(CausesPage const& page);
[[nodiscard]] nlohmann::json to_json(CausesPage const& page);

// Parts of the page.
[[nodiscard]] std::string to_text(ResidencePage const& page);
[[nodiscard]] nlohmann::json to_json(ResidencePage const& page);
[[nodiscard]] std::string to_text(BarrierPage const& page);
[[nodiscard]] nlohmann::json to_json(BarrierPage const& page);

// What they say in words.
[[nodiscard]] Sentences findings(ResidencePage const& page);
[[nodiscard]] Sentences findings(BarrierPage const& page);

// The finding in words.
[[nodiscard]] std::string in_words(melt::Finding const& finding);

}  // namespace meltlag::report
