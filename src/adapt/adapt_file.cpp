// SPDX-License-Identifier: MIT
#include "meltlag/adapt/adapt_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/gcode/recognise.hpp"

namespace meltlag::adapt {
namespace {

constexpr int most_repairs = 4;
constexpr std::int64_t lines_around = 40;  // of a broken promise: as far as a corner is felt

class Attempts {
 public:
  Attempts(std::string const& path,
           AdaptOptions const& options,
           judge::JudgeOptions const& figures,
           OutputFile& output,
           AdaptFileHooks const& hooks)
      : path_(path),
        options_(options),
        asked_flow_alone_(options.flow_alone),
        figures_(figures),
        output_(output),
        hooks_(hooks) {}

  void attempt(Notices& notices) {
    Task const task(tried_ > 0 ? "once more, with more room" : "");
    if (tried_++ > 0) output_.restart();
    write(notices);
    Notices again;  // the same file, the same notices
    judge::CellSink* const cells = hooks_.new_cells ? hooks_.new_cells() : nullptr;
    figures_.plant.supply.max_flow_mm3_s = result.info.supply.max_flow_mm3_s;
    figures_.unload_mm3 = result.info.unload_mm3;
    Task const checking("checking what was written", written_share, 1);
    result.judgement =
        judge::judge_files(path_, output_.temporary_path(), figures_, again, nullptr, cells);
  }
  void attempt_again() {
    Notices again;
    attempt(again);
  }
  [[nodiscard]] bool broken() const {
    return result.judgement.violation_count > 0 || result.judgement.parting.has_value();
  }
  // Schedules again farther from E's limits, then leaves the lines concerned out.
  void repair();
  void fall_back();

  AdaptedFile result;

 private:
  static constexpr double written_share = 0.85;  // of the time of an attempt

  void write(Notices& notices) {
    Task const task("adapting", 0, written_share);
    result.info = adapt(
        path_, options_, [&](std::string_view text) { output_.write(text); }, notices);
    output_.flush();
  }
  bool leave_out_broken_lines();
  [[nodiscard]] bool too_slow() const;

  std::string const& path_;
  AdaptOptions options_;
  std::vector<LineRange> asked_flow_alone_;
  judge::JudgeOptions figures_;
  OutputFile& output_;
  AdaptFileHooks const& hooks_;
  int tried_ = 0;
};

void append(std::vector<LineRange>& ranges, LineRange range) {
  if (!ranges.empty() && range.first <= ranges.back().last + 1) {
    ranges.back().last = std::max(ranges.back().last, range.last);
  } else {
    ranges.push_back(range);
  }
}

std::vector<LineRange> merged(std::vector<LineRange> ranges) {
  std::ranges::sort(ranges, {}, &LineRange::first);
  std::vector<LineRange> out;
  for (LineRange const& range : ranges) append(out, range);
  return out;
}

bool Attempts::leave_out_broken_lines() {
  std::vector<std::int64_t> const& lines = result.judgement.violation_lines;
  if (lines.empty()) return false;
  std::vector<LineRange>& out = result.set_right_lines;
  for (std::int64_t const line : lines)
    out.push_back({std::max<std::int64_t>(1, line - lines_around), line + lines_around});
  out = merged(std::move(out));
  std::vector<LineRange> all = asked_flow_alone_;
  all.insert(all.end(), out.begin(), out.end());
  options_.flow_alone = merged(std::move(all));
  return true;
}

// More time was spent than was granted.
bool Attempts::too_slow() const {
  judge::Judgement const& judged = result.judgement;
  double const allowed_s = std::max(judged.before.planned_s * (1 + figures_.extra_time),
                                    judged.flow_set_right.planned_s);
  return judged.after.planned_s > allowed_s;
}

void Attempts::repair() {
  constexpr double dearer = 1.1;
  for (int i = 0; i < most_repairs && options_.price_mm3_per_s > 0 && broken() && too_slow(); ++i) {
    options_.price_mm3_per_s *= dearer;
    attempt_again();
  }
  for (double const caution : {0.03, 0.1}) {
    if (!broken()) return;
    options_.caution = caution;
    if (result.broken_promise.empty() && !result.judgement.violations.empty())
      result.broken_promise = result.judgement.violations.front();
    attempt_again();
  }
  for (int i = 0; i < most_repairs && broken() && leave_out_broken_lines(); ++i) attempt_again();
}

std::string speed_limit(double mm_s) {
  if (mm_s <= 0) return {};
  constexpr double coarse = 10;
  double const shown = mm_s >= coarse ? std::floor(mm_s) : mm_s;
  return fmt::format(
      ": limit the slicer's print speeds to {:.{}f} mm/s", shown, mm_s < coarse ? 1 : 0);
}

// Nothing may be added to any move: it is not even set right.
bool all_cold(AdaptedFile const& result) {
  return result.info.cold_moves > 0 && result.info.changeable_moves == 0;
}

// Why the screw has nothing to do.
std::string why_nothing(AdaptedFile const& result, bool was_broken, double cold_below_c) {
  judge::Judgement const& judged = result.judgement;
  if (was_broken) return "the scheduled file did not keep this promise: " + result.broken_promise;
  if (judged.before.wanted_mm3 <= 0) return "the file extrudes nothing while the head moves";
  if (result.info.lag_negligible) return "the lag is too short to be seen";
  if (all_cold(result))
    return fmt::format("the nozzle is set to {:g} °C, below cold_below_c ({:g} °C)",
                       judged.before.hottest_c,
                       cold_below_c);
  if (result.info.changeable_moves == 0) return "no move of it may be changed";
  judge::PrintMetrics const& right = judged.flow_set_right;
  constexpr double much = 0.005;
  if (right.starved_mm3 > much * right.wanted_mm3)
    return fmt::format("it asks for more than the screw feeds from line {} on{}",
                       right.starved_line,
                       speed_limit(right.fed_speed_mm_s));
  return "what is left is in steps that the screw cannot follow";
}

// Never worse than the flow setting: that itself, and where it says nothing, the file as it is.
void Attempts::fall_back() {
  judge::PrintMetrics const &after = result.judgement.after,
                            &right = result.judgement.flow_set_right;
  bool const was_broken = broken();
  if (!was_broken && after.misplaced_mm3 < right.misplaced_mm3) return;
  result.reason = why_nothing(result, was_broken, options_.cold_below_c);
  options_.rewrite = Rewrite::flow_alone;
  options_.price_mm3_per_s = 0;
  bool const same = result.judgement.before.misplaced_mm3 <= right.misplaced_mm3;
  if (!same && !all_cold(result)) {
    attempt_again();
    result.outcome = Outcome::flow_set_right;
    if (!broken()) return;
  }
  options_.rewrite = Rewrite::nothing;
  attempt_again();
  result.outcome = Outcome::as_sliced;
}

}  // namespace

AdaptedFile adapt_file(std::string const& path,
                       AdaptOptions const& options,
                       judge::JudgeOptions const& figures,
                       OutputFile& output,
                       Notices& notices,
                       AdaptFileHooks const& hooks) {
  gcode::require_gcode(path);
  Attempts attempts(path, options, figures, output, hooks);
  attempts.attempt(notices);
  attempts.repair();
  attempts.fall_back();
  if (attempts.broken()) {
    judge::Judgement const& judged = attempts.result.judgement;
    throw Error("even the file as sliced did not pass its check: " +
                    (judged.parting ? judged.parting->text : judged.violations.front()),
                {.file = path},
                "Nothing was written. Please report this file to the makers of Meltlag.");
  }
  return std::move(attempts.result);
}

}  // namespace meltlag::adapt
