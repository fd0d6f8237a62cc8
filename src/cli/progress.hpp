// SPDX-License-Identifier: MIT
// What a command is at, on stderr, once it takes longer than a person likes to wait: on a terminal
// a bar in one line, elsewhere a line every ten seconds.
#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>

#include "meltlag/base/progress.hpp"

namespace meltlag::cli {

class ProgressDisplay final : public ProgressWatcher {
 public:
  enum class Where : std::uint8_t { terminal, log, nowhere };

  ProgressDisplay();  // where stderr leads
  ~ProgressDisplay() override;
  ProgressDisplay(ProgressDisplay const&) = delete;
  ProgressDisplay& operator=(ProgressDisplay const&) = delete;
  void on_progress(Progress const& progress) override;

 private:
  friend void clear_progress();
  friend void silence_progress();
  using Clock = std::chrono::steady_clock;
  void clear();
  void show(std::string const& line);

  Where where_;
  Clock::time_point begun_ = Clock::now();
  Clock::time_point next_;        // to be shown again
  Clock::time_point part_begun_;  // of what `share` counts
  double part_from_ = 0, last_share_ = 0;
  std::size_t shown_columns_ = 0;  // of a bar that stands on the terminal
};

// What is done and what remains, in at most 79 columns: "[####........] 33 %  adapting part …,
// about 20 s left". `left_s`: none where it is not known yet.
[[nodiscard]] std::string bar_line(Progress const& progress, std::optional<double> left_s);
// The same without a bar.
[[nodiscard]] std::string log_line(Progress const& progress, std::optional<double> left_s);

// Takes the bar away, so that other text may be written; it comes back when there is more to tell.
void clear_progress();
// Nothing more is shown.
void silence_progress();

}  // namespace meltlag::cli
