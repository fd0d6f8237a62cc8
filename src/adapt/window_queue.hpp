// SPDX-License-Identifier: MIT
// Batches of windows, decided in order while others are read and written. The first legs of all are
// one chain of work, the second legs another; these never wait for those.
#pragma once

#include <deque>
#include <functional>
#include <future>
#include <memory>
#include <vector>

#include "meltlag/base/worker.hpp"
#include "window_batch.hpp"

namespace meltlag::adapt {

class WindowQueue {
 public:
  static constexpr std::size_t most_windows = 24;  // of a batch

  // `threads`: at most; 0: as many as there are processors.
  WindowQueue(std::function<WindowScheduler()> const& make_scheduler,
              Coverage coverage,
              unsigned threads);

  // The next windows, as WindowBatch has them. The records that they decide must stay where they
  // are and untouched until they are taken.
  void add(std::vector<PlannedMove*> records, std::vector<WindowSpan> windows);
  // Takes the oldest batch, when it is decided: how many records that are. 0: there is none.
  std::size_t take();
  // Whether so many are under way that one had better be taken.
  [[nodiscard]] bool is_full() const { return batches_.size() >= most_batches; }

  // Of all windows taken so far.
  [[nodiscard]] WindowResult const& totals() const { return totals_; }
  [[nodiscard]] std::int64_t windows_decided() const { return windows_decided_; }

 private:
  static constexpr std::size_t most_batches = 2;
  struct UnderWay {
    std::unique_ptr<WindowBatch> batch;
    std::future<void> second, all;
  };
  void count(WindowBatch const& batch);

  Coverage coverage_;
  WindowScheduler first_scheduler_, second_scheduler_;
  WindowState state_;  // behind the last batch decided
  std::deque<UnderWay> batches_;
  WindowResult totals_;
  std::int64_t windows_decided_ = 0;
  // The last to be begun: they end before what they work on.
  Worker first_legs_, second_legs_;
};

}  // namespace meltlag::adapt
