// SPDX-License-Identifier: MIT
#include "emitting.hpp"

namespace meltlag::cli {

Emitted emit(std::string const& file,
             adapt::AdaptOptions const& options,
             judge::JudgeOptions const& figures,
             adapt::OutputFile& output,
             Notices& notices,
             KeepPath keep) {
  std::optional<page::PathRecord> path;
  adapt::AdaptFileHooks hooks;
  if (keep == KeepPath::yes) hooks.new_cells = [&] { return &path.emplace(); };
  adapt::AdaptedFile result = adapt::adapt_file(file, options, figures, output, notices, hooks);
  if (path) path->finish();
  return {std::move(result), std::move(path)};
}

}  // namespace meltlag::cli
