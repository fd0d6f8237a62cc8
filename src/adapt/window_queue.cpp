// SPDX-License-Identifier: MIT
#include "window_queue.hpp"

#include <utility>

namespace meltlag::adapt {
namespace {

void add_times(LimitTimes const& more, LimitTimes& to) {
  to.scheduled_s += more.scheduled_s;
  to.flow_forward_s += more.flow_forward_s;
  to.reverse_s += more.reverse_s;
  to.jump_s += more.jump_s;
}

}  // namespace

WindowQueue::WindowQueue(std::function<WindowScheduler()> const& make_scheduler,
                         Coverage coverage,
                         unsigned threads)
    : coverage_(coverage),
      first_scheduler_(make_scheduler()),
      second_scheduler_(make_scheduler()),
      first_legs_(threads),
      second_legs_(threads) {}

void WindowQueue::add(std::vector<PlannedMove*> records, std::vector<WindowSpan> windows) {
  if (windows.empty()) return;
  UnderWay& added = batches_.emplace_back();
  added.batch = std::make_unique<WindowBatch>(
      coverage_, std::move(records), std::move(windows), first_scheduler_);
  WindowBatch& batch = *added.batch;
  added.second = second_legs_.post([this, &batch] { batch.decide_second(second_scheduler_); });
  added.all = first_legs_.post([this, &batch, &second = added.second] {
    batch.decide_first(first_scheduler_, state_);
    second.get();
    state_ = batch.join(first_scheduler_);
  });
}

std::size_t WindowQueue::take() {
  if (batches_.empty()) return 0;
  UnderWay& oldest = batches_.front();
  oldest.all.get();
  count(*oldest.batch);
  std::size_t const kept = oldest.batch->kept();
  batches_.pop_front();
  return kept;
}

void WindowQueue::count(WindowBatch const& batch) {
  for (std::size_t w = 0; w < batch.windows().size(); ++w) {
    WindowResult const& one = batch.results()[w];
    totals_.sums.time_s += one.sums.time_s;
    totals_.sums.wanted_mm3 += one.sums.wanted_mm3;
    totals_.sums.misplaced_mm3 += one.sums.misplaced_mm3;
    totals_.rounds += one.rounds;
    totals_.steps += one.steps;
    add_times(one.limits, totals_.limits);
    windows_decided_ += batch.windows()[w].sampled ? 1 : 0;
  }
}

}  // namespace meltlag::adapt
