// SPDX-License-Identifier: MIT
// The main job: a sliced file in; a file that suits the extruder's lag out, with its judgement.
// What is emitted is read back, proved (invariants.hpp) and never worse than the file with its flow
// set right. Where a promise does not hold, the lines concerned are left as sliced with their flow
// set right, at worst all of them; a well-formed file is never refused for what its own moves ask.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/adapt/pace.hpp"
#include "meltlag/adapt/side_by_side.hpp"
#include "meltlag/base/output_file.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::adapt {

struct AdaptFileOptions {
  AdaptOptions adapt;
  TimeGrant time = {};
  // The price of a second where it is known, as from a TradeCurve; else it is looked for.
  std::optional<double> price_mm3_per_s = {};
  // The result is judged over this uncertainty of the lag too; zeros: as the lag is believed alone.
  schedule::LagSpread judged_spread = {};
  std::optional<double> nozzle_mm = {};  // where it is known, to doubt E by
  // The file holds the text of this job: its left copy has its flow set right alone.
  SideBySideJob const* job = nullptr;
  // A fresh sink for the cells of each attempt; the last attempt's are those of the result.
  std::function<judge::CellSink*()> new_cells = {};
};

enum class Outcome : std::uint8_t {
  adapted,
  flow_set_right,       // the schedule was not better: E is divided by the delivered factor alone
  as_sliced,            // only the comment line was added
  target_out_of_reach,  // no text and no judgement: `pace` says what can be reached
};

// Misplaced shares over the plants that stand for the lag's uncertainty.
struct SpreadFigures {
  double least = 0, mean = 0, greatest = 0;
};

// What the copies of a job misplace, and where they should look unlike each other.
struct JudgedPair {
  std::vector<judge::Difference> differences;
  double left_misplaced_share = 0, right_misplaced_share = 0;
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
  std::optional<PaceChoice> pace;            // where time was granted
  std::optional<SpreadFigures> over_spread;  // where it was asked for
  std::optional<JudgedPair> pair;            // of a job
  std::string e_doubt;  // why E may be a volume although no M200 says so, in words; else empty
};

// The text goes to `draft`, complete and not committed: no file is changed before the caller does.
// Throws Error where the file cannot be read, is no G-code or was adapted already, and where not
// even the file as sliced keeps the promises.
[[nodiscard]] AdaptedFile adapt_file(std::string const& path,
                                     AdaptFileOptions const& options,
                                     OutputFile& draft,
                                     Notices& notices);

// How a file that was adapted with these options is judged.
[[nodiscard]] judge::JudgeOptions judge_options(AdaptOptions const& options);

}  // namespace meltlag::adapt
