// SPDX-License-Identifier: MIT
// Writing the adapted text and checking what was written.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/figure.hpp"
#include "meltlag/adapt/output_file.hpp"
#include "meltlag/report/path_record.hpp"

namespace meltlag::cli {

struct Emitted {
  adapt::AdaptInfo info;
  std::optional<report::PathRecord> path;  // where it is to be kept
  adapt::Judgement judgement;
};

enum class ShowProgress : std::uint8_t { no, yes };
enum class KeepPath : std::uint8_t { no, yes };  // for a page's pictures
struct Emitting {
  ShowProgress progress = ShowProgress::no;
  KeepPath path = KeepPath::no;
};

[[nodiscard]] Emitted emit_once(std::string const& file,
                                adapt::AdaptOptions const& options,
                                adapt::FigureOptions const& figures,
                                adapt::OutputFile& output,
                                Notices& notices,
                                Emitting how);

// A corner that the printer takes a little faster than planned can break a limit; then everything
// is scheduled again, further away from the limits. Leaves the caution that was needed in
// `options`.
[[nodiscard]] Emitted emit_with_care(std::string const& file,
                                     adapt::AdaptOptions& options,
                                     adapt::FigureOptions const& figures,
                                     adapt::OutputFile& output,
                                     Notices& notices,
                                     Emitting how);

// Throws Error where the emitted file breaks a promise.
void refuse_violations(std::string const& file, adapt::Judgement const& judgement);

}  // namespace meltlag::cli
