// SPDX-License-Identifier: MIT
#include "kept_original.hpp"

#include "judging.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/output_file.hpp"
#include "meltlag/base/system.hpp"

namespace meltlag::cli {
namespace {

void require_same_path(std::string const& original, std::string const& adapted) {
  Notices told_later;
  judge::Judgement const judged =
      judge::judge_files(original, adapted, common_options(), told_later, nullptr);
  if (!judged.parting) return;
  throw Error("is kept beside " + adapted +
                  ", but is not the file that it was adapted from: " + judged.parting->text,
              {.file = original},
              "Slice again, or adapt the right original by its own name.");
}

}  // namespace

std::optional<std::string> kept_original(std::string const& file) {
  std::string kept = file + kept_suffix;
  if (!is_replaceable(file) || !exists(file) || !exists(kept)) return {};
  if (!says_adapted(file)) return {};
  if (says_adapted(kept))
    throw Error("was adapted already: it is no original",
                {.file = kept},
                "Slice again, and adapt what the slicer writes.");
  require_same_path(kept, file);
  return kept;
}

void restore_original(std::string const& file) {
  auto const kept = kept_original(file);
  if (!kept)
    throw Error("there is no original to put back",
                {.file = file},
                "It is kept as " + file + kept_suffix +
                    " where adapt was called with --in-place --keep-original.");
  if (!system::rename_file(*kept, file, system::Replace::existing))
    throw Error("cannot put it back: " + system::cause(),
                {.file = file},
                "Check that the folder can be written; rename " + *kept + " by hand.");
}

}  // namespace meltlag::cli
