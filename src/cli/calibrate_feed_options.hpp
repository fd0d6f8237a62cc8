// SPDX-License-Identifier: MIT
// The options of `meltlag calibrate feed`.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/testpiece/feed.hpp"
#include "output_files.hpp"

namespace meltlag::cli {

struct FeedCommandOptions {
  std::string profile, output, sheet, burst_sheet, store_sheet, start, end, read, read_bursts,
      read_store, report;
  testpiece::FeedOptions options{.slicer_diameter_mm = 0, .limits = {}};
  std::vector<double> park_mm;
  std::optional<double> density_g_cm3, beep_s;
  double bead_width_mm = 1;
  bool plain_start = false, limits = false, force = false, json = false, details = false;
  [[nodiscard]] bool reads() const {
    return !read.empty() || !read_bursts.empty() || !read_store.empty();
  }
  [[nodiscard]] Overwrite overwrite() const {
    return force ? Overwrite::allowed : Overwrite::refused;
  }
};

void add_options(CLI::App& command, FeedCommandOptions& request);
// Throws CLI::ValidationError where options are missing or do not go together.
void check_usage(FeedCommandOptions const& request);

}  // namespace meltlag::cli
