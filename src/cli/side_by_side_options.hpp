// SPDX-License-Identifier: MIT
// `adapt --side-by-side`.
#pragma once

#include <CLI/CLI.hpp>
#include <optional>
#include <string>

#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/base/output_file.hpp"
#include "meltlag/profile/profile.hpp"
#include "output_files.hpp"

namespace meltlag::cli {

struct SideBySideCommandOptions {
  bool asked = false;
  std::string tick_sheet;
  double gap_mm = 5, bed_x_mm = 0;
};

void add_options(CLI::App& command, SideBySideCommandOptions& request);
// Names the sheet where it has no name yet. Throws where words do not go together, or where the
// sheet may not be written.
void settle(SideBySideCommandOptions& request, std::string const& output, Overwrite overwrite);

// The job with the part twice takes the file's place; nothing where it is not asked for.
[[nodiscard]] std::optional<adapt::SideBySideJob> put_side_by_side(
    SideBySideCommandOptions const& request,
    std::string& file,
    profile::Profile const& profile,
    std::optional<OutputFile>& spool);

}  // namespace meltlag::cli
