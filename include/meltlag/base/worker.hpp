// SPDX-License-Identifier: MIT
// Work that another thread does, in the order in which it is given.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <future>
#include <mutex>
#include <thread>

namespace meltlag {

class Worker {
 public:
  // `threads`: how many may be at work in all, 0: as many as there are processors. With one, post()
  // does the work itself.
  explicit Worker(unsigned threads);
  // Waits for what has begun; what has not never will: its future is broken.
  ~Worker();
  Worker(Worker const&) = delete;
  Worker& operator=(Worker const&) = delete;

  // False where post() does the work itself.
  [[nodiscard]] bool is_beside() const { return !at_once_; }
  // The future tells when the work is done, or what it threw.
  [[nodiscard]] std::future<void> post(std::function<void()> work);

 private:
  void run();

  bool at_once_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::packaged_task<void()>> waiting_;
  bool ending_ = false;
  std::thread thread_;  // begins with the first work
};

}  // namespace meltlag
