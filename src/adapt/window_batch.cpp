// SPDX-License-Identifier: MIT
#include "window_batch.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

// A second leg costs a warm-up: none of both has fewer windows than this.
constexpr std::size_t least_of_a_leg = 6;
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

}  // namespace

WindowBatch::WindowBatch(Coverage coverage,
                         std::vector<PlannedMove*> records,
                         std::vector<WindowSpan> windows,
                         WindowScheduler const& scheduler)
    : coverage_(coverage), records_(std::move(records)), windows_(std::move(windows)) {
  std::size_t const count = windows_.size();
  results_.resize(count);
  left_.resize(count);
  // As much work for each: one warms up, the other's last window waits.
  std::size_t const shift = coverage_ == Coverage::whole ? 1 : 0;
  first_.behind = count < 2 * least_of_a_leg ? count : count / 2 + shift;
  second_.first = first_.behind;
  second_.behind = count;
  look_ahead(first_);
  if (second_is_empty()) return;
  look_ahead(second_);
  bool const warms_up = coverage_ == Coverage::whole;
  WindowSpan const& before = windows_[second_.first - 1];
  second_.state = scheduler.guess_behind(own(warms_up ? windows_[second_.first - 2] : before));
  if (warms_up) second_.warm_up = copied(records_, before.begin, before.end);
}

std::vector<PlannedMove*> WindowBatch::own(WindowSpan const& span) const {
  return {records_.begin() + static_cast<std::ptrdiff_t>(span.begin),
          records_.begin() + static_cast<std::ptrdiff_t>(span.kept)};
}

// Copies what it looks at beyond its own, before anything is at work.
void WindowBatch::look_ahead(Leg& leg) {
  leg.own_end = windows_[leg.behind - 1].kept;
  std::size_t end = 0;
  for (std::size_t w = leg.first; w < leg.behind; ++w) end = std::max(end, windows_[w].end);
  leg.ahead = copied(records_, leg.own_end, end);
}

void WindowBatch::decide_window(Leg& leg, std::size_t window, WindowScheduler& scheduler) {
  WindowSpan const& span = windows_[window];
  std::vector<PlannedMove*> moves;
  for (std::size_t i = span.begin; i < std::min(span.end, leg.own_end); ++i)
    moves.push_back(records_[i]);
  if (span.end > leg.own_end) append_pointers(leg.ahead, span.end - leg.own_end, moves);
  results_[window] = scheduler.schedule(moves, span.kept - span.begin, leg.state);
  left_[window] = leg.state;
}

void WindowBatch::run(Leg& leg, std::size_t behind, WindowScheduler& scheduler) {
  for (std::size_t w = leg.first; w < behind; ++w) {
    if (windows_[w].sampled) {
      decide_window(leg, w, scheduler);
      continue;
    }
    std::vector<PlannedMove*> const passed = own(windows_[w]);
    leg.state = scheduler.guess_behind(passed);
    for (PlannedMove* const record : passed) record->scheduled = true;
  }
}

// All windows but the one that has to wait.
void WindowBatch::decide_first(WindowScheduler& scheduler, WindowState const& state) {
  first_.state = state;
  run(first_, first_.behind - (closes() ? 1 : 0), scheduler);
}

void WindowBatch::decide_second(WindowScheduler& scheduler) {
  if (!second_.warm_up.empty()) {
    WindowSpan const& before = windows_[second_.first - 1];
    std::vector<PlannedMove*> moves;
    append_pointers(second_.warm_up, second_.warm_up.size(), moves);
    (void)scheduler.schedule(moves, before.kept - before.begin, second_.state);
  }
  run(second_, second_.behind, scheduler);
}

WindowState WindowBatch::join(WindowScheduler& scheduler) {
  if (second_is_empty()) return first_.state;
  if (closes()) {
    close(scheduler);
    follow_through(scheduler);
  }
  return second_.state;
}

// The first leg's last window, which looks at what the second has decided by now.
void WindowBatch::close(WindowScheduler& scheduler) {
  std::size_t const window = first_.behind - 1;
  first_.ahead =
      copied(records_, first_.own_end, std::min(windows_.back().kept, windows_[window].end));
  decide_window(first_, window, scheduler);
}

// Where the first leg ended otherwise than expected: what the second comes to from there.
void WindowBatch::follow_through(WindowScheduler& scheduler) {
  WindowState state = first_.state;
  for (std::size_t w = second_.first; w < second_.behind; ++w) {
    results_[w].sums = scheduler.replay(own(windows_[w]), state);
    if (is_same(state, left_[w])) return;
    left_[w] = state;
  }
  state.pace = second_.state.pace;
  second_.state = state;
}

}  // namespace meltlag::adapt
