// SPDX-License-Identifier: MIT
#include "emitting.hpp"

#include <cstdio>

namespace meltlag::cli {
namespace {

void show_progress(double share) {
  std::fprintf(stderr, "\r%3.0f %% adapted", 100 * share);
  std::fflush(stderr);
}

}  // namespace

Emitted emit(std::string const& file,
             adapt::AdaptOptions const& options,
             adapt::FigureOptions const& figures,
             adapt::OutputFile& output,
             Notices& notices,
             Emitting how) {
  bool const shown = how.progress == ShowProgress::yes;
  std::optional<report::PathRecord> path;
  adapt::AdaptFileHooks hooks;
  if (shown) hooks.progress = show_progress;
  if (how.path == KeepPath::yes) hooks.new_cells = [&] { return &path.emplace(); };
  adapt::AdaptedFile result = adapt::adapt_file(file, options, figures, output, notices, hooks);
  if (shown) std::fputs("\r              \r", stderr);
  if (path) path->finish();
  return {std::move(result), std::move(path)};
}

}  // namespace meltlag::cli
