// SPDX-License-Identifier: MIT
#include "meltlag/base/worker.hpp"

#include <utility>

#include "meltlag/base/parallel.hpp"

namespace meltlag {

Worker::Worker(unsigned threads) : at_once_(usable_threads(threads) < 2) {}

Worker::~Worker() {
  {
    std::scoped_lock const lock(mutex_);
    ending_ = true;
    waiting_.clear();
  }
  changed_.notify_one();
  if (thread_.joinable()) thread_.join();
}

std::future<void> Worker::post(std::function<void()> work) {
  std::packaged_task<void()> task(std::move(work));
  std::future<void> done = task.get_future();
  if (at_once_) {
    task();
    return done;
  }
  {
    std::scoped_lock const lock(mutex_);
    waiting_.push_back(std::move(task));
  }
  if (!thread_.joinable()) thread_ = std::thread([this] { run(); });
  changed_.notify_one();
  return done;
}

void Worker::run() {
  std::unique_lock lock(mutex_);
  for (;;) {
    changed_.wait(lock, [this] { return ending_ || !waiting_.empty(); });
    if (ending_) return;
    std::packaged_task<void()> task = std::move(waiting_.front());
    waiting_.pop_front();
    lock.unlock();
    task();
    lock.lock();
  }
}

}  // namespace meltlag
