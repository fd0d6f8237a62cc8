// SPDX-License-Identifier: MIT
// Writing the adapted text and checking what was written.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "meltlag/adapt/adapt_file.hpp"
#include "meltlag/page/path_record.hpp"

namespace meltlag::cli {

struct Emitted : adapt::AdaptedFile {
  std::optional<page::PathRecord> path;  // where it is to be kept
};

enum class KeepPath : std::uint8_t { no, yes };  // for a page's pictures

// adapt::adapt_file(), and the path where a page needs it.
[[nodiscard]] Emitted emit(std::string const& file,
                           adapt::AdaptOptions const& options,
                           judge::JudgeOptions const& figures,
                           adapt::OutputFile& output,
                           Notices& notices,
                           KeepPath keep);

}  // namespace meltlag::cli
