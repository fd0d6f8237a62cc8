// SPDX-License-Identifier: MIT
// Windows that are decided together, on two processors.
//
// They are parted into two legs that are scheduled side by side. The second does not know how the
// first will end: it begins with a warm-up, the window in front of it, scheduled for nothing but
// the state that it leaves. The last window of the first leg is decided when all others are: it
// looks ahead to what the second leg has decided, and so ends as that leg expects. What remains of
// the difference is followed through the second leg. Legs depend on the number of windows alone,
// never on the number of threads.
#pragma once

#include <vector>

#include "window.hpp"

namespace meltlag::adapt {

// Numbers among the records of a batch: from `begin` to before `kept` they are decided, from there
// to before `end` only looked at.
struct WindowSpan {
  std::size_t begin = 0, kept = 0, end = 0;
  bool sampled = true;  // else it stays as it is and counts nothing
};

// Where the windows are a sample of the file's, each begins with a guess.
enum class Coverage : std::uint8_t { whole, sample };

class WindowBatch {
 public:
  // One or more windows in order, each beginning behind what the one before it keeps; `records`
  // reach as far as they look. Those behind the last window's are only read, and only here.
  WindowBatch(Coverage coverage,
              std::vector<PlannedMove*> records,
              std::vector<WindowSpan> windows,
              WindowScheduler const& scheduler);

  // The legs may be at work at the same time, each with a scheduler of its own. `state`: what the
  // batch in front of it left.
  void decide_first(WindowScheduler& scheduler, WindowState const& state);
  void decide_second(WindowScheduler& scheduler);
  // When both are done: what is left open between them, and the state behind all.
  WindowState join(WindowScheduler& scheduler);

  // How many records it decides.
  [[nodiscard]] std::size_t kept() const { return windows_.back().kept; }
  // When it is joined: of each window; nothing of those that are not in the sample.
  [[nodiscard]] std::vector<WindowResult> const& results() const { return results_; }
  [[nodiscard]] std::vector<WindowSpan> const& windows() const { return windows_; }

 private:
  struct Leg {
    std::size_t first = 0, behind = 0;  // windows
    std::size_t own_end = 0;            // records from here on are not its own
    WindowState state;                  // behind what is decided of it
    std::vector<PlannedMove> warm_up;   // copies: the window in front of it and what that looks at
    std::vector<PlannedMove> ahead;     // copies of what its windows look at from own_end on
  };

  void look_ahead(Leg& leg);
  void run(Leg& leg, std::size_t behind, WindowScheduler& scheduler);
  void close(WindowScheduler& scheduler);
  void follow_through(WindowScheduler& scheduler);
  void decide_window(Leg& leg, std::size_t window, WindowScheduler& scheduler);
  [[nodiscard]] std::vector<PlannedMove*> own(WindowSpan const& span) const;
  // A window of the first leg that waits for the second.
  [[nodiscard]] bool closes() const { return coverage_ == Coverage::whole && !second_is_empty(); }
  [[nodiscard]] bool second_is_empty() const { return second_.first == second_.behind; }

  Coverage coverage_;
  std::vector<PlannedMove*> records_;
  std::vector<WindowSpan> windows_;
  Leg first_, second_;
  std::vector<WindowResult> results_;
  std::vector<WindowState> left_;  // by each window
};

}  // namespace meltlag::adapt
