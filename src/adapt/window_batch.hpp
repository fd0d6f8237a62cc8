// SPDX-License-Identifier: MIT
// Windows that are decided together, on several processors.
//
// They are parted into legs that are scheduled side by side. A leg behind the first does not know
// how the one before it will end: it begins with a warm-up, the window in front of it, scheduled
// for nothing but the state that it leaves. The last window of a leg is decided when all others
// are: it looks ahead to what the next leg has decided, and so ends as that leg expects. What
// remains of the difference is followed through the next leg. Legs depend on the number of windows
// alone, never on the number of threads.
#pragma once

#include <functional>
#include <vector>

#include "window.hpp"

namespace meltlag::adapt {

// Numbers among the records of a batch: from `begin` to before `kept` they are decided, from there
// to before `end` only looked at.
struct WindowSpan {
  std::size_t begin = 0, kept = 0, end = 0;
  bool sampled = true;  // else it stays as it is and counts nothing
};

class WindowBatch {
 public:
  static constexpr std::size_t most_windows = 24;

  // Where they are a sample of the file's, each begins with a guess.
  enum class Coverage : std::uint8_t { whole, sample };

  // `threads`: at most; 0: as many as there are processors.
  WindowBatch(std::function<WindowScheduler()> make_scheduler, Coverage coverage, unsigned threads)
      : make_scheduler_(std::move(make_scheduler)), coverage_(coverage), threads_(threads) {}

  // At most `most_windows` in order, each beginning behind what the one before it keeps. `state`
  // goes from the first one's start to the last one's end.
  void decide(std::vector<PlannedMove*> records,
              std::vector<WindowSpan> windows,
              WindowState& state);

  // Of all windows decided so far.
  [[nodiscard]] WindowResult const& totals() const { return totals_; }
  [[nodiscard]] std::int64_t windows_decided() const { return windows_decided_; }

 private:
  struct Leg {
    std::size_t first = 0, behind = 0;  // windows
    std::size_t own_end = 0;            // records from here on are another leg's
    WindowState state;                  // behind what is decided of it
    std::vector<PlannedMove> warm_up;   // copies: the window in front of it and what that looks at
    std::vector<PlannedMove> ahead;     // copies of what its windows look at from own_end on
  };

  void part_into_legs();
  void prepare(std::size_t leg);
  void run(std::size_t leg);
  void close(std::size_t leg);
  void follow_through(std::size_t leg);
  void decide_window(std::size_t leg, std::size_t window);
  void add_up();
  [[nodiscard]] std::vector<PlannedMove*> own(WindowSpan const& span) const;
  [[nodiscard]] bool is_last(std::size_t leg) const { return leg + 1 == legs_.size(); }

  std::function<WindowScheduler()> make_scheduler_;
  Coverage coverage_;
  unsigned threads_;
  std::vector<WindowScheduler> schedulers_;  // one for each leg
  std::vector<PlannedMove*> records_;
  std::vector<WindowSpan> windows_;
  std::vector<Leg> legs_;
  std::vector<WindowResult> results_;  // of each window
  std::vector<WindowState> left_;      // by each window
  WindowResult totals_;
  std::int64_t windows_decided_ = 0;
};

}  // namespace meltlag::adapt
