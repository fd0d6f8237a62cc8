// SPDX-License-Identifier: MIT
#include "meltlag/base/progress.hpp"

#include <algorithm>
#include <utility>

namespace meltlag {
namespace {

thread_local ProgressWatcher* watcher = nullptr;
thread_local Task* innermost = nullptr;

}  // namespace

WatchProgress::WatchProgress(ProgressWatcher& now) : before_(std::exchange(watcher, &now)) {}
WatchProgress::~WatchProgress() { watcher = before_; }

Task::Task(std::string_view doing, double from, double to, Rest rest)
    : outer_(std::exchange(innermost, this)),
      doing_(doing),
      from_(from),
      to_(to),
      open_(rest == Rest::open) {
  if (outer_ == nullptr) return;
  double const range = outer_->to_ - outer_->from_;
  from_ = outer_->from_ + from * range;
  to_ = outer_->from_ + to * range;
  open_ |= outer_->open_;
}

Task::~Task() { innermost = outer_; }

bool progress_is_watched() { return watcher != nullptr; }

void tell_progress(double share) {
  if (watcher == nullptr) return;
  Progress progress;
  progress.share = std::clamp(share, 0.0, 1.0);
  if (innermost != nullptr) {
    progress.share = innermost->from_ + progress.share * (innermost->to_ - innermost->from_);
    progress.of_whole = !innermost->open_;
  }
  for (Task const* task = innermost; task != nullptr; task = task->outer_) {
    if (task->doing_.empty()) continue;
    std::string const inner = progress.doing.empty() ? "" : ", " + progress.doing;
    progress.doing = std::string(task->doing_) + inner;
  }
  watcher->on_progress(progress);
}

}  // namespace meltlag
