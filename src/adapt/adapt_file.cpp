// SPDX-License-Identifier: MIT
#include "meltlag/adapt/adapt_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "kept_passes.hpp"
#include "meltlag/adapt/bead_widths.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/base/worker.hpp"
#include "meltlag/gcode/recognise.hpp"
#include "over_spread.hpp"

namespace meltlag::adapt {
namespace {

constexpr int most_repairs = 4;
constexpr std::int64_t lines_around = 40;  // of a broken promise: as far as a corner is felt
// By so much of the whole a file whose layers keep their times may get longer.
constexpr double layer_rounding = 0.01;

// The options of every pass: the left copy of a job is none to schedule.
AdaptOptions pass_options(AdaptFileOptions const& options) {
  AdaptOptions out = options.adapt;
  if (options.job != nullptr) out.flow_alone = options.job->flow_alone;
  return out;
}

// What the result is judged by: the same machine, and the time that was granted.
judge::JudgeOptions granted_options(AdaptFileOptions const& options,
                                    std::optional<PaceChoice> const& pace) {
  judge::JudgeOptions out = judge_options(options.adapt);
  bool const kept = options.adapt.layer_time == LayerTime::kept;
  bool const priced = options.price_mm3_per_s.has_value();
  if (pace) out.extra_time = pace->allowed_share;
  if (priced) out.extra_time = options.time.extra_share.value_or(0);
  if (kept) out.extra_time = std::max(out.extra_time, layer_rounding);
  if (pace || priced || kept) out.speeds = judge::Speeds::lowered;
  return out;
}

class Attempts {
 public:
  Attempts(std::string const& path,
           AdaptFileOptions const& options,
           std::optional<PaceChoice> const& pace,
           OutputFile& draft)
      : path_(path),
        asked_(options),
        options_{pass_options(options)},
        asked_flow_alone_(options_.flow_alone),
        figures_(granted_options(options, pace)),
        draft_(draft) {
    options_.price_mm3_per_s = pace ? pace->price_mm3_per_s : options.price_mm3_per_s.value_or(0);
  }

  void attempt(Notices& notices) {
    Task const task(tried_ > 0 ? "once more, with more room" : "");
    if (tried_++ > 0) draft_.restart();
    write(notices);
    check();
  }
  // What a pass has made already; an attempt where its text is not kept.
  void take(KeptPasses& passes) {
    if (!passes.write(options_.price_mm3_per_s, draft_, result.info)) return attempt_again();
    ++tried_;
    draft_.flush();
    check();
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
  void require_promises() const;
  void judge_over_spread() {
    if (asked_.judged_spread.known())
      result.over_spread =
          judge_over(asked_.judged_spread, path_, draft_.temporary_path(), figures_);
  }
  void judge_pair();

  AdaptedFile result;

 private:
  static constexpr double written_share = 0.85;  // of the time of an attempt

  void write(Notices& notices) {
    Task const task("adapting", 0, written_share);
    result.info = adapt_pass(
        path_, options_, [&](std::string_view text) { draft_.write(text); }, notices);
    draft_.flush();
  }
  void check() {
    Notices again;  // the same file, the same notices
    judge::CellSink* const cells = asked_.new_cells ? asked_.new_cells() : nullptr;
    figures_.plant.supply.max_flow_mm3_s = result.info.supply.max_flow_mm3_s;
    figures_.unload_mm3 = result.info.unload_mm3;
    Task const checking("checking what was written", written_share, 1);
    result.judgement =
        judge::judge_files(path_, draft_.temporary_path(), figures_, again, nullptr, cells);
  }
  bool leave_out_broken_lines();
  [[nodiscard]] bool too_slow() const;

  std::string const& path_;
  AdaptFileOptions const& asked_;
  PassOptions options_;
  std::vector<LineRange> asked_flow_alone_;
  judge::JudgeOptions figures_;
  OutputFile& draft_;
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

void Attempts::judge_pair() {
  if (asked_.job == nullptr) return;
  constexpr std::size_t most_places = 10;
  judge::JudgeOptions figures = figures_;
  figures.prove = judge::Prove::figures_only;
  judge::DifferenceFinder finder(*asked_.job);
  judge::CopyMetrics copies(*asked_.job);
  Notices again;
  (void)judge::judge_files(path_, draft_.temporary_path(), figures, again, &finder, &copies);
  result.pair = {.differences = finder.finish(most_places),
                 .left_misplaced_share = copies.left_misplaced_share(),
                 .right_misplaced_share = copies.right_misplaced_share()};
}

void Attempts::require_promises() const {
  if (!broken()) return;
  judge::Judgement const& judged = result.judgement;
  throw Error("even the file as sliced did not pass its check: " +
                  (judged.parting ? judged.parting->text : judged.violations.front()),
              {.file = path_},
              "Nothing was written. Please report this file to the makers of Meltlag.");
}

// Whether E is written as a volume although no M200 says so.
std::string doubt_of_e(std::string const& path, AdaptFileOptions const& options) {
  AdaptOptions const& adapt = options.adapt;
  WidthSurvey const survey =
      survey_widths(path, adapt.plant.feed.slicer_diameter_mm, adapt.g91_covers_e);
  return survey.volumetric_said ? std::string{} : looks_volumetric(survey.upper, options.nozzle_mm);
}

}  // namespace

judge::JudgeOptions judge_options(AdaptOptions const& options) {
  return {.plant = options.plant,
          .limits = options.limits,
          .g91_covers_e = options.g91_covers_e,
          .cold_below_c = options.cold_below_c,
          .prove = judge::Prove::invariants,
          .threads = options.threads};
}

AdaptedFile adapt_file(std::string const& path,
                       AdaptFileOptions const& options,
                       OutputFile& draft,
                       Notices& notices) {
  {
    Task const task("adapting", 0, 0);  // who is held up here reads what it is at
    gcode::require_gcode(path);
  }
  std::string e_doubt;
  Worker aside(options.adapt.threads);
  std::future<void> doubted = aside.post([&] { e_doubt = doubt_of_e(path, options); });
  AdaptOptions believed = pass_options(options);  // what the time is depends on that alone
  believed.spread = {};
  KeptPasses passes(path, {believed}, notices);
  std::optional<PaceChoice> pace;
  if (!options.price_mm3_per_s) pace = choose_pace(path, believed, options.time, std::ref(passes));
  if (pace && !pace->reaches_target()) {
    AdaptedFile out;
    out.outcome = Outcome::target_out_of_reach;
    out.pace = std::move(pace);
    return out;
  }
  Attempts attempts(path, options, pace, draft);
  constexpr double emitted_share = 0.65;  // of the time of both
  double const share = options.judged_spread.known() ? emitted_share : 1;
  std::optional<Task> task(std::in_place, "", 0, share);
  if (!pace) {
    attempts.attempt(notices);
  } else if (options.adapt.spread.known()) {
    attempts.attempt_again();
  } else {
    attempts.take(passes);
  }
  attempts.repair();
  attempts.fall_back();
  attempts.require_promises();
  task.emplace("", share, 1);
  attempts.judge_over_spread();
  task.emplace("", 1, 1);
  attempts.judge_pair();
  attempts.result.pace = std::move(pace);
  doubted.get();
  attempts.result.e_doubt = std::move(e_doubt);
  return std::move(attempts.result);
}

}  // namespace meltlag::adapt
