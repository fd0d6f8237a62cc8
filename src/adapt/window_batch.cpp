// SPDX-License-Identifier: MIT
#include "window_batch.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "meltlag/base/parallel.hpp"

namespace meltlag::adapt {
namespace {

// Each leg more costs a warm-up: none has fewer windows than this.
constexpr std::size_t least_windows = 6;
constexpr std::size_t most_legs = 2;
constexpr double same_mm3 = 1e-6;

bool is_same(double a, double b) { return a == b || std::abs(a - b) < same_mm3; }

bool is_same(WindowState const& a, WindowState const& b) {
  return is_same(a.run_on_mm3, b.run_on_mm3) && is_same(a.backlash_mm3, b.backlash_mm3) &&
         is_same(a.wound_back_mm3, b.wound_back_mm3) && is_same(a.store_mm3, b.store_mm3) &&
         std::ranges::equal(
             a.run_ons_mm3, b.run_ons_mm3, [](double x, double y) { return is_same(x, y); });
}

std::vector<PlannedMove> copied(std::vector<PlannedMove*> const& records,
                                std::size_t begin,
                                std::size_t end) {
  std::vector<PlannedMove> out;
  for (std::size_t i = begin; i < end; ++i) out.push_back(*records[i]);
  return out;
}

void append_pointers(std::vector<PlannedMove>& moves,
                     std::size_t count,
                     std::vector<PlannedMove*>& out) {
  for (std::size_t i = 0; i < std::min(count, moves.size()); ++i) out.push_back(&moves[i]);
}

void add(LimitTimes const& more, LimitTimes& to) {
  to.scheduled_s += more.scheduled_s;
  to.flow_forward_s += more.flow_forward_s;
  to.reverse_s += more.reverse_s;
  to.jump_s += more.jump_s;
}

}  // namespace

void WindowBatch::part_into_legs() {
  std::size_t const windows = windows_.size();
  std::size_t const count = std::clamp<std::size_t>(windows / least_windows, 1, most_legs);
  // As much work for each: one warms up, the other's last window waits.
  std::size_t const shift = coverage_ == Coverage::whole ? 1 : 0;
  auto const begin = [&](std::size_t leg) {
    return leg == 0 ? 0 : leg == count ? windows : leg * windows / count + shift;
  };
  legs_.assign(count, {});
  for (std::size_t i = 0; i < count; ++i) {
    legs_[i].first = begin(i);
    legs_[i].behind = begin(i + 1);
    legs_[i].own_end =
        is_last(i) ? std::numeric_limits<std::size_t>::max() : windows_[legs_[i].behind - 1].kept;
  }
  while (schedulers_.size() < count) schedulers_.push_back(make_scheduler_());
}

std::vector<PlannedMove*> WindowBatch::own(WindowSpan const& span) const {
  return {records_.begin() + static_cast<std::ptrdiff_t>(span.begin),
          records_.begin() + static_cast<std::ptrdiff_t>(span.kept)};
}

// Everything that it needs of other legs, before any is at work.
void WindowBatch::prepare(std::size_t number) {
  Leg& leg = legs_[number];
  if (!is_last(number)) {
    std::size_t end = 0;
    for (std::size_t w = leg.first; w < leg.behind; ++w) end = std::max(end, windows_[w].end);
    leg.ahead = copied(records_, leg.own_end, end);
  }
  if (number == 0) return;
  bool const warms_up = coverage_ == Coverage::whole;
  WindowSpan const& before = windows_[leg.first - 1];
  leg.state = schedulers_[number].guess_behind(own(warms_up ? windows_[leg.first - 2] : before));
  if (warms_up) leg.warm_up = copied(records_, before.begin, before.end);
}

void WindowBatch::decide_window(std::size_t number, std::size_t window) {
  Leg& leg = legs_[number];
  WindowSpan const& span = windows_[window];
  std::vector<PlannedMove*> moves;
  for (std::size_t i = span.begin; i < std::min(span.end, leg.own_end); ++i)
    moves.push_back(records_[i]);
  if (span.end > leg.own_end) append_pointers(leg.ahead, span.end - leg.own_end, moves);
  results_[window] = schedulers_[number].schedule(moves, span.kept - span.begin, leg.state);
  left_[window] = leg.state;
}

// All windows but the one that has to wait for the next leg.
void WindowBatch::run(std::size_t number) {
  Leg& leg = legs_[number];
  if (!leg.warm_up.empty()) {
    WindowSpan const& before = windows_[leg.first - 1];
    std::vector<PlannedMove*> moves;
    append_pointers(leg.warm_up, leg.warm_up.size(), moves);
    (void)schedulers_[number].schedule(moves, before.kept - before.begin, leg.state);
  }
  bool const waits = coverage_ == Coverage::whole && !is_last(number);
  for (std::size_t w = leg.first; w < leg.behind - (waits ? 1 : 0); ++w) {
    if (windows_[w].sampled) {
      decide_window(number, w);
      continue;
    }
    std::vector<PlannedMove*> const passed = own(windows_[w]);
    leg.state = schedulers_[number].guess_behind(passed);
    for (PlannedMove* const record : passed) record->scheduled = true;
  }
}

// Its last window, which looks at what the next leg has decided by now.
void WindowBatch::close(std::size_t number) {
  Leg& leg = legs_[number];
  Leg const& next = legs_[number + 1];
  std::size_t const open = is_last(number + 1) ? 0 : 1;
  std::size_t const decided = windows_[next.behind - 1 - open].kept;
  WindowSpan const& span = windows_[leg.behind - 1];
  leg.ahead = copied(records_, leg.own_end, std::min(decided, span.end));
  decide_window(number, leg.behind - 1);
}

// Where the leg before it ended otherwise than expected: what this one comes to from there.
void WindowBatch::follow_through(std::size_t number) {
  Leg& leg = legs_[number];
  WindowState state = legs_[number - 1].state;
  for (std::size_t w = leg.first; w < leg.behind; ++w) {
    results_[w].sums = schedulers_[number].replay(own(windows_[w]), state);
    if (is_same(state, left_[w])) return;
    left_[w] = state;
  }
  state.pace = leg.state.pace;
  leg.state = state;
}

void WindowBatch::add_up() {
  for (std::size_t w = 0; w < windows_.size(); ++w) {
    WindowResult const& one = results_[w];
    totals_.sums.time_s += one.sums.time_s;
    totals_.sums.wanted_mm3 += one.sums.wanted_mm3;
    totals_.sums.misplaced_mm3 += one.sums.misplaced_mm3;
    totals_.rounds += one.rounds;
    totals_.steps += one.steps;
    add(one.limits, totals_.limits);
    windows_decided_ += windows_[w].sampled ? 1 : 0;
  }
}

void WindowBatch::decide(std::vector<PlannedMove*> records,
                         std::vector<WindowSpan> windows,
                         WindowState& state) {
  if (windows.empty()) return;
  records_ = std::move(records);
  windows_ = std::move(windows);
  results_.assign(windows_.size(), {});
  left_.assign(windows_.size(), {});
  part_into_legs();
  legs_.front().state = state;
  for (std::size_t i = 0; i < legs_.size(); ++i) prepare(i);
  in_parallel(legs_.size(), threads_, [this](std::size_t leg) { run(leg); });
  if (coverage_ == Coverage::whole) {
    in_parallel(legs_.size() - 1, threads_, [this](std::size_t leg) { close(leg); });
    for (std::size_t i = 1; i < legs_.size(); ++i) follow_through(i);
  }
  state = legs_.back().state;
  add_up();
}

}  // namespace meltlag::adapt
