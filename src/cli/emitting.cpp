// SPDX-License-Identifier: MIT
#include "emitting.hpp"

#include <cstdio>

#include "meltlag/base/error.hpp"

namespace meltlag::cli {
namespace {

void show_progress(double share) {
  std::fprintf(stderr, "\r%3.0f %% adapted", 100 * share);
  std::fflush(stderr);
}

}  // namespace

Emitted emit_once(std::string const& file,
                  adapt::AdaptOptions const& options,
                  adapt::FigureOptions const& figures,
                  adapt::OutputFile& output,
                  Notices& notices,
                  Emitting how) {
  bool const shown = how.progress == ShowProgress::yes;
  Emitted result;
  auto const sink = [&](std::string_view text) { output.write(text); };
  result.info =
      adapt::adapt(file, options, sink, notices, shown ? show_progress : adapt::Progress{});
  output.flush();
  if (shown) std::fputs("\r              \r", stderr);
  Notices again;  // the same file, the same notices
  if (how.path == KeepPath::yes) result.path.emplace();
  result.judgement = adapt::judge(file,
                                  output.temporary_path(),
                                  figures,
                                  again,
                                  nullptr,
                                  result.path ? &*result.path : nullptr);
  if (result.path) result.path->finish();
  return result;
}

Emitted emit_with_care(std::string const& file,
                       adapt::AdaptOptions& options,
                       adapt::FigureOptions const& figures,
                       adapt::OutputFile& output,
                       Notices& notices,
                       Emitting how) {
  Emitted result = emit_once(file, options, figures, output, notices, how);
  for (double const caution : {0.03, 0.1}) {
    if (result.judgement.violation_count == 0 || result.judgement.parting) break;
    options.caution = caution;
    output.restart();
    Notices again;  // the same as before
    result = emit_once(file, options, figures, output, again, how);
  }
  return result;
}

void refuse_violations(std::string const& file, adapt::Judgement const& judgement) {
  if (judgement.parting) {
    throw Error("the adapted file would leave the path: " + judgement.parting->text,
                {.file = file},
                "Nothing was written. Please report this file to the makers of Meltlag.");
  }
  if (judgement.violation_count == 0) return;
  throw Error("the adapted file did not pass its check: " + judgement.violations.front(),
              {.file = file},
              "Nothing was written. Please report this file to the makers of Meltlag.");
}

}  // namespace meltlag::cli
