// SPDX-License-Identifier: MIT
#include "meltlag/adapt/pass.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <utility>
#include <vector>

#include "layers.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/gcode/recognise.hpp"
#include "meltlag/judge/survey.hpp"
#include "retract_policy.hpp"
#include "rewriter.hpp"
#include "speed_profile.hpp"
#include "window_queue.hpp"

namespace meltlag::adapt {
namespace {

constexpr std::size_t flush_bytes = 1 << 18;
constexpr std::size_t lines_between_looks = 4096;
constexpr double negligible_lag_s = 2e-4;
constexpr std::int64_t long_file_moves = 10'000;  // from here on time is felt

// One of each `every` windows, now the first, now the last: parts repeat from layer to layer.
bool in_sample(std::int64_t window, int every) {
  auto const group = static_cast<std::uint64_t>(window / every);
  std::uint64_t const mixed = (group + 1) * 0x9E3779B97F4A7C15U >> 32U;
  return every <= 1 ||
         mixed % static_cast<std::uint64_t>(every) == static_cast<std::uint64_t>(window % every);
}

CutterOptions cutter_options(PassOptions const& options) {
  CutterOptions cutter{};
  cutter.shortest_cut_s = options.shortest_cut_ms / 1000;
  if (options.max_lines_per_s)
    cutter.shortest_cut_s = std::max(cutter.shortest_cut_s, 1 / *options.max_lines_per_s);
  cutter.buffer_moves = options.buffer_moves;
  cutter.cell_mm = 0.5;
  cutter.caution = options.caution;
  return cutter;
}

// How far a decision is felt: the time to look ahead beyond what a window keeps.
double look_ahead_s(AdaptOptions const& options) {
  double const max_flow = options.plant.supply.max_flow_mm3_s;
  auto const& law = options.plant.law;
  return std::max({4 * melt::lag_s(law, law.at_flow_mm3_s),
                   3 * melt::run_on_at_flow(law, max_flow) / max_flow,
                   0.2});
}

// So little lag that no correction could be seen.
bool is_negligible(AdaptOptions const& options) {
  return melt::lag_s(options.plant.law, options.plant.law.at_flow_mm3_s) < negligible_lag_s &&
         options.plant.feed.backlash_mm == 0;
}

Rewrite rewrite_of(PassOptions const& options) {
  if (options.rewrite != Rewrite::schedule || !is_negligible(options)) return options.rewrite;
  return options.plant.feed.delivered_factor == 1 ? Rewrite::nothing : Rewrite::flow_alone;
}

RetractPolicyOptions retract_policy_options(PassOptions const& options,
                                            judge::Demand const& demand) {
  return {judge::unload_mm3(demand, options.plant),
          options.cold_below_c,
          options.stops,
          rewrite_of(options),
          options.flow_alone};
}

Effort effort_of(PassOptions const& options, judge::Demand const& demand) {
  bool const is_long = demand.moves >= long_file_moves;
  if (options.sample_every > 1) return is_long ? Effort::rough_of_long_file : Effort::rough;
  return is_long ? Effort::swift : Effort::thorough;
}

WindowScheduler window_scheduler(PassOptions const& options, judge::Demand const& demand) {
  return {cutter_options(options),
          options.plant,
          options.most_run_on_mm3.value_or(1.2 * demand.largest_run_on_mm3),
          effort_of(options, demand),
          {options.price_mm3_per_s, options.min_speed_mm_s},
          options.spread};
}

class Adapter final : public gcode::MeaningSink, public motion::TimedSink {
 public:
  Adapter(std::string const& path,
          PassOptions const& options,
          TextSink const& out,
          Notices& notices,
          judge::Demand const& demand,
          std::vector<double> layer_factors)
      : options_(options),
        out_(out),
        reader_(path, read_options(options), notices),
        planner_({options.limits, motion::PlanE::included}, *this),
        retract_policy_(retract_policy_options(options, demand),
                        [this](Entry&& entry) { take(std::move(entry)); }),
        cutter_(cutter_options(options), options.plant),
        look_ahead_s_(look_ahead_s(options)),
        kept_cuts_(static_cast<std::size_t>(std::max(1, options.window_cuts))),
        most_cuts_(8 * kept_cuts_),
        rewriter_(text_),
        layer_factors_(std::move(layer_factors)),
        batches_([&options, &demand] { return window_scheduler(options, demand); },
                 options.sample_every > 1 ? Coverage::sample : Coverage::whole,
                 options.threads) {}

  AdaptInfo run();
  // As scheduled, by the numbers of layer_of(); dwells not counted.
  [[nodiscard]] std::vector<double> const& layer_s() const { return layer_s_; }

  void on_move(gcode::Move const& move) override {
    line_move_ = moves_seen_++;
    retract_policy_.push(move);
  }
  using motion::TimedSink::on_halt;  // when a halt begins does not matter here
  void on_halt(gcode::Halt const& halt) override { retract_policy_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { retract_policy_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override;

 private:
  struct Line {
    std::uint64_t begin = 0;  // of its text, in bytes from the file's beginning
    std::uint32_t text = 0, line_break = 0;
    std::int64_t move = -1;             // the last one of the line
    bool still = false;                 // a motion line that moves nothing
    double e_before = 0, e_behind = 0;  // the file's E register
  };

  void read_line();
  void write_head(std::string_view line_break);
  void take(Entry&& entry);
  double speed_factor(PlannedMove const& record);
  void count_layer_time(PlannedMove const& record);
  bool parts_a_stop(std::int64_t index);
  void schedule_ready(bool finished);
  bool part_window(bool finished);
  void queue_waiting();
  void take_batch();
  void write_lines(bool finished);
  void send();
  PlannedMove& record(std::int64_t index) {
    return records_[static_cast<std::size_t>(index - first_record_)];
  }

  PassOptions const& options_;
  TextSink const& out_;
  gcode::ProgramReader reader_;
  motion::Planner planner_;
  RetractPolicy retract_policy_;
  Cutter cutter_;  // to count with
  double look_ahead_s_;
  std::size_t kept_cuts_, most_cuts_;  // of a window: those decided, those looked at
  std::string text_;                   // ready to be sent
  Rewriter rewriter_;

  std::string store_;              // text of the lines that wait
  std::uint64_t store_begin_ = 0;  // how many bytes went through it before
  std::uint64_t written_to_ = 0;
  std::deque<Line> lines_;
  std::deque<PlannedMove> records_;
  double rest_before_s_ = 0;       // dwells that no move stands before
  std::int64_t first_record_ = 0;  // number of records_.front()
  std::int64_t next_timed_ = 0;    // records below are timed
  std::int64_t scheduled_ = 0;     // records below have their pieces
  std::int64_t queued_ = 0;        // records below belong to a batch of windows
  std::int64_t parted_ = 0;        // records below belong to a window
  std::int64_t moves_seen_ = 0, line_move_ = -1;
  std::int64_t windows_seen_ = 0;
  std::vector<WindowSpan> waiting_;  // windows of the next batch
  std::size_t pending_cuts_ = 0;     // of timed records that belong to no window
  std::size_t next_look_cuts_ = 0;   // of them, before it is worth looking for a window
  gcode::LayerCounter layers_;
  std::vector<double> layer_factors_;  // of the speed; empty: none is changed
  std::vector<double> layer_s_;
  bool head_written_ = false;
  AdaptInfo info_;
  WindowQueue batches_;  // ends before the records do
};

void Adapter::write_head(std::string_view line_break) {
  text_ += options_.marker;
  text_ += line_break.empty() ? "\n" : line_break;
  head_written_ = true;
  ++info_.lines_out;
}

void Adapter::read_line() {
  gcode::Block const& block = reader_.block();
  if (block.line == 1) text_ += reader_.source().bom();
  bool const opening = block.line == 1 && gcode::is_percent(block.text);
  if (!head_written_ && !opening) write_head(block.line_break);
  line_move_ = -1;
  double const e_before = reader_.interpreter().e_register_word();
  gcode::LineRole const role = reader_.interpret(*this);
  if (role == gcode::LineRole::marker) {
    throw Error("this file was already adapted; adapting it again would correct the lag twice",
                {reader_.source().name(), block.line, 1},
                "adapt the file as the slicer wrote it");
  }
  Line line;
  line.begin = store_begin_ + store_.size();
  line.text = static_cast<std::uint32_t>(block.text.size());
  line.line_break = static_cast<std::uint32_t>(block.line_break.size());
  line.move = line_move_;
  line.still = role == gcode::LineRole::motion && line_move_ < 0;
  line.e_before = e_before;
  line.e_behind = reader_.interpreter().e_register_word();
  store_ += block.text;
  store_ += block.line_break;
  lines_.push_back(line);
  ++info_.lines_in;
  // Lines without a move in front of them need not wait for the next one.
  if (lines_.size() % lines_between_looks == 0) write_lines(false);
  if (opening) {
    write_lines(false);
    write_head(block.line_break);
  }
}

// A move whose rate is ours is planned without E, but next to a stop: the printer keeps that timing
// because the rates stay within E's limits.
void Adapter::take(Entry&& entry) {
  if (auto* halt = std::get_if<gcode::Halt>(&entry)) {
    // Noted first: the planner may send the move on, and with it a window to be scheduled.
    if (halt->kind == gcode::HaltKind::dwell)
      (records_.empty() ? rest_before_s_ : records_.back().dwell_after_s) += halt->dwell_s;
    if (halt->kind == gcode::HaltKind::wait && !records_.empty()) records_.back().wait_after = true;
    planner_.push(*halt);
    return;
  }
  if (auto* setting = std::get_if<gcode::Setting>(&entry)) {
    planner_.push(*setting);
    return;
  }
  PlannedMove& record = records_.emplace_back(std::move(std::get<PlannedMove>(entry)));
  motion::Limits const& limits = planner_.limits();
  record.jump_mm_s = limits.corner_jump_mm_s;
  record.max_e_mm_s = limits.max_speed_mm_s[motion::axis_e];
  record.max_e_mm_s2 = limits.max_acceleration_mm_s2[motion::axis_e];
  record.free_e = keeps_acceleration(record.move, limits);
  ++info_.moves;
  if (record.extrusion == ExtrusionPolicy::free_rate ||
      record.extrusion == ExtrusionPolicy::free_stroke)
    ++info_.changeable_moves;
  if (record.cold) ++info_.cold_moves;
  if (record.extrusion == ExtrusionPolicy::absorbed) {
    ++info_.absorbed;
    return;
  }
  record.layer = layer_of(record.move, layers_);
  gcode::Move const planned =
      planned_move(record, speed_factor(record), options_.plant.feed.delivered_factor);
  record.flow_right_e_mm = planned.e_mm;
  record.stroke_fills_time = options_.layer_time == LayerTime::kept;
  if (planned.feed_mm_s != record.move.feed_mm_s) record.asked_mm_s = planned.feed_mm_s;
  planner_.push(planned, plan_e(record));
}

double Adapter::speed_factor(PlannedMove const& record) {
  std::size_t const layer = record.layer;
  double const factor = layer < layer_factors_.size() ? layer_factors_[layer] : 1;
  bool const prints = record.move.kind == gcode::MoveKind::print;
  if (!options_.most_print_mm_s || !prints) return factor;
  return std::min(factor, *options_.most_print_mm_s / record.move.feed_mm_s);
}

void Adapter::count_layer_time(PlannedMove const& record) {
  if (record.extrusion == ExtrusionPolicy::absorbed) return;
  if (layer_s_.size() <= record.layer) layer_s_.resize(record.layer + 1);
  layer_s_[record.layer] += SpeedProfile(record).duration_s();
}

void Adapter::on_timed_move(motion::TimedMove const& timed) {
  while (record(next_timed_).extrusion == ExtrusionPolicy::absorbed) ++next_timed_;
  PlannedMove& r = record(next_timed_++);
  r.speed = timed.speed;
  r.top_mm_s = timed.top_mm_s;
  r.entry_limit_mm_s = timed.entry_limit_mm_s;
  pending_cuts_ += cutter_.count_cuts(r);
  if (pending_cuts_ >= next_look_cuts_) schedule_ready(false);
}

// Whether a border of windows in front of record `index` would lie beside a move of E alone: what
// the printer does at that corner depends on the rates on both sides.
bool Adapter::parts_a_stop(std::int64_t index) {
  return record(index - 1).move.kind == gcode::MoveKind::e_only ||
         record(index).move.kind == gcode::MoveKind::e_only;
}

// The window that begins at the first record that belongs to none; false where too little of what
// it has to look ahead to is known yet.
bool Adapter::part_window(bool finished) {
  std::size_t const available = static_cast<std::size_t>(next_timed_ - parted_);
  auto const count_cuts = [&](std::size_t i) {
    return cutter_.count_cuts(record(parted_ + static_cast<std::int64_t>(i)));
  };
  std::size_t cuts = 0, kept = 0;
  while (kept < available &&
         (cuts < kept_cuts_ || parts_a_stop(parted_ + static_cast<std::int64_t>(kept))))
    cuts += count_cuts(kept++);
  std::size_t const kept_cuts = cuts;
  std::size_t end = kept;
  double ahead_s = 0;
  while (end < available && ahead_s < look_ahead_s_ && cuts < most_cuts_) {
    PlannedMove const& r = record(parted_ + static_cast<std::int64_t>(end));
    ahead_s += time_of(r);
    cuts += count_cuts(end++);
    if (r.wait_after) break;
  }
  bool const enough = ahead_s >= look_ahead_s_ || cuts >= most_cuts_ || end < available;
  if (!enough && !finished) {
    next_look_cuts_ = pending_cuts_ + kept_cuts_ / 8;
    return false;
  }
  if (finished && end == available) kept = end;
  auto const begin = static_cast<std::size_t>(parted_ - queued_);
  waiting_.push_back(
      {begin, begin + kept, begin + end, in_sample(windows_seen_++, options_.sample_every)});
  parted_ += static_cast<std::int64_t>(kept);
  pending_cuts_ -= std::min(pending_cuts_, kept_cuts);
  next_look_cuts_ = 2 * kept_cuts_;
  return true;
}

void Adapter::schedule_ready(bool finished) {
  if (finished) next_timed_ = first_record_ + static_cast<std::int64_t>(records_.size());
  while (parted_ < next_timed_ && part_window(finished))
    if (waiting_.size() == WindowQueue::most_windows) queue_waiting();
  if (!finished) return;
  queue_waiting();
  while (scheduled_ < queued_) take_batch();
}

void Adapter::queue_waiting() {
  if (waiting_.empty()) return;
  std::size_t end = 0;
  for (WindowSpan const& span : waiting_) end = std::max(end, span.end);
  std::vector<PlannedMove*> records;
  for (std::size_t i = 0; i < end; ++i)
    records.push_back(&record(queued_ + static_cast<std::int64_t>(i)));
  batches_.add(std::move(records), std::exchange(waiting_, {}));
  queued_ = parted_;
  if (batches_.is_full()) take_batch();
}

void Adapter::take_batch() {
  auto const behind = scheduled_ + static_cast<std::int64_t>(batches_.take());
  while (scheduled_ < behind) count_layer_time(record(scheduled_++));
  write_lines(false);
}

// Writes every line whose turn has come.
void Adapter::write_lines(bool finished) {
  while (!lines_.empty()) {
    Line const& line = lines_.front();
    if (line.move >= scheduled_ && !finished) break;
    SourceLine const source{
        std::string_view(store_).substr(line.begin - store_begin_, line.text),
        std::string_view(store_).substr(line.begin - store_begin_ + line.text, line.line_break),
        line.e_before,
        line.e_behind};
    bool const estimated = options_.sample_every > 1;
    if (line.move < 0 && estimated) {
      // Nobody reads the text of an estimate.
    } else if (line.still) {
      rewriter_.still(source);
    } else if (line.move < 0) {
      rewriter_.other(source);
    } else {
      if (!estimated) rewriter_.move(source, record(line.move));
      // Its own record is not needed any more; the last one stays for halts that follow it.
      while (first_record_ < line.move) {
        records_.pop_front();
        ++first_record_;
      }
    }
    written_to_ = line.begin + line.text + line.line_break;
    lines_.pop_front();
    if (text_.size() > flush_bytes) send();
  }
  if (written_to_ - store_begin_ > flush_bytes) {
    store_.erase(0, written_to_ - store_begin_);
    store_begin_ = written_to_;
  }
}

void Adapter::send() {
  out_(text_);
  text_.clear();
}

AdaptInfo Adapter::run() {
  while (reader_.next()) read_line();
  if (!head_written_) write_head({});
  retract_policy_.finish();
  planner_.finish();
  schedule_ready(true);
  write_lines(true);
  send();
  info_.lines_out += rewriter_.lines_out();
  info_.e_words = rewriter_.e_words();
  WindowResult const& totals = batches_.totals();
  info_.limits = totals.limits;
  info_.windows = batches_.windows_decided();
  info_.solver_rounds = totals.rounds;
  info_.solver_steps = totals.steps;
  info_.path_s = totals.sums.time_s;
  // A sample stands for the share that pace adds to what is driven.
  if (options_.sample_every == 1) info_.path_s += rest_before_s_;
  info_.wanted_mm3 = totals.sums.wanted_mm3;
  info_.misplaced_mm3 = totals.sums.misplaced_mm3;
  return info_;
}

// Strokes that the schedule makes nearly nothing of are over sooner than as sliced, and corners
// beside them are taken faster: a trial tells by how much in each layer.
std::vector<double> layer_factors(std::string const& path,
                                  PassOptions options,
                                  judge::Demand const& demand) {
  RetractPolicyOptions const retract_policy = retract_policy_options(options, demand);
  LayerPlan plan = plan_layers(path, options, retract_policy, {});
  bool const estimated = options.sample_every > 1;
  options.price_mm3_per_s = 0;
  constexpr int trials = 3;
  for (int i = 0; i < trials && !estimated; ++i) {
    Notices unused;
    TextSink const nowhere = [](std::string_view) {};
    Adapter trial(path, options, nowhere, unused, demand, plan.factors);
    trial.run();
    std::vector<double> lost_s = plan.planned_s;
    for (std::size_t k = 0; k < lost_s.size() && k < trial.layer_s().size(); ++k)
      lost_s[k] -= trial.layer_s()[k];
    plan = plan_layers(path, options, retract_policy, lost_s);
  }
  return std::move(plan.factors);
}

}  // namespace

AdaptInfo adapt_pass(std::string const& path,
                     PassOptions const& given,
                     TextSink const& out,
                     Notices& notices) {
  constexpr double survey_share = 0.04, trials_share = 0.6;
  std::optional<Task> task(std::in_place, "", 0, survey_share);
  judge::Demand const demand = judge::survey(path, {given.plant, given.limits, given.g91_covers_e});
  PassOptions options = given;
  if (given.sure_burst_mm3) options.plant.supply.burst_mm3 = *given.sure_burst_mm3;
  double& max_flow = options.plant.supply.max_flow_mm3_s;
  bool const guessed = !std::isfinite(max_flow);
  if (guessed) max_flow = demand.sustained_flow_mm3_s;
  std::vector<double> factors;
  double begun = survey_share;
  if (options.layer_time == LayerTime::kept) {
    task.emplace("trying the layers' times", begun, trials_share, Task::Rest::open);
    factors = layer_factors(path, options, demand);
    begun = trials_share;
  }
  task.emplace("", begun, 1);
  Adapter adapter(path, options, out, notices, demand, std::move(factors));
  AdaptInfo info = adapter.run();
  info.supply = options.plant.supply;
  info.unload_mm3 = judge::unload_mm3(demand, options.plant);
  info.max_flow_guessed = guessed;
  info.lag_negligible = is_negligible(options);
  return info;
}

}  // namespace meltlag::adapt
