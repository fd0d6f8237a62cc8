// SPDX-License-Identifier: MIT
// What a long computation is at, for a person who waits. Whoever wants to see it watches the thread
// that computes; where nobody watches, telling costs next to nothing.
#pragma once

#include <string>
#include <string_view>

namespace meltlag {

// What is being done, from the whole to its part: "time table, trial 3, scheduling".
struct Progress {
  std::string doing;
  double share = 0;      // done, 0 … 1
  bool of_whole = true;  // false: of the present trial; nobody knows how many there will be
};

class ProgressWatcher {
 public:
  virtual ~ProgressWatcher() = default;
  virtual void on_progress(Progress const& progress) = 0;
};

// Watches the present thread as long as it lives.
class WatchProgress {
 public:
  explicit WatchProgress(ProgressWatcher& watcher);
  ~WatchProgress();
  WatchProgress(WatchProgress const&) = delete;
  WatchProgress& operator=(WatchProgress const&) = delete;

 private:
  ProgressWatcher* before_;
};

// A part of what the present thread does, as long as it lives. Tasks nest: what is told of the
// inner one stands for its range of the outer one.
class Task {
 public:
  // How much of the whole is known.
  enum class Rest { known, open };

  // `doing` must outlive it and may be empty; `from` and `to` are shares of the outer task.
  explicit Task(std::string_view doing, double from = 0, double to = 1, Rest rest = Rest::known);
  ~Task();
  Task(Task const&) = delete;
  Task& operator=(Task const&) = delete;

 private:
  friend void tell_progress(double share);

  Task* outer_;
  std::string_view doing_;
  double from_, to_;  // of all
  bool open_;
};

// True where telling is of any use.
[[nodiscard]] bool progress_is_watched();
// `share`, 0 … 1, of the innermost task is done.
void tell_progress(double share);

}  // namespace meltlag
