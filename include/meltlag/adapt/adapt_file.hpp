// SPDX-License-Identifier: MIT
// One sliced file to one adapted file, with its judgement: what is emitted is read back, proved
// (invariants.hpp) and never worse than the file with its flow set right. Where a promise does not
// hold, the lines concerned are left as sliced with their flow set right, at worst all of them; a
// well-formed file is never refused for what its own moves ask.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/output_file.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::adapt {

enum class Outcome : std::uint8_t {
  adapted,
  flow_set_right,  // the schedule was not better: E is divided by the delivered factor, no more
  as_sliced,       // only the comment line was added
};

struct AdaptedFile {
  AdaptInfo info;
  judge::Judgement judgement;
  Outcome outcome = Outcome::adapted;
  std::string reason;  // why nothing is gained, where it is not
  // Lines of the original that are as sliced with their flow set right, as a promise would not have
  // held, and which one, in words.
  std::vector<LineRange> set_right_lines;
  std::string broken_promise;
};

struct AdaptFileHooks {
  // A fresh sink for the cells of each attempt; the last attempt's are those of the result.
  std::function<judge::CellSink*()> new_cells = {};
};

// Writes the text to `output`, complete but not committed. Throws Error where the file cannot be
// read, is no G-code or was adapted already, and where not even the file as sliced keeps the
// promises.
[[nodiscard]] AdaptedFile adapt_file(std::string const& path,
                                     AdaptOptions const& options,
                                     judge::JudgeOptions const& figures,
                                     OutputFile& output,
                                     Notices& notices,
                                     AdaptFileHooks const& hooks = {});

}  // namespace meltlag::adapt
