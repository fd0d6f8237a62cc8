// SPDX-License-Identifier: MIT
// How the head runs along one move: as planned from the file, or stretch by stretch where it is
// paced.
#pragma once

#include <vector>

#include "planned_move.hpp"

namespace meltlag::adapt {

// A view of a planned move, which has to outlive it.
class SpeedProfile {
 public:
  explicit SpeedProfile(PlannedMove const& planned)
      : whole_(planned.speed), phases_(planned.speed), paced_(planned.paced) {}

  [[nodiscard]] double length_mm() const { return whole_.length_mm; }
  [[nodiscard]] double duration_s() const;
  [[nodiscard]] double entry_mm_s() const;
  [[nodiscard]] double exit_mm_s() const;
  [[nodiscard]] double distance_at(double t_s) const;
  [[nodiscard]] double time_at(double s_mm) const;
  [[nodiscard]] double speed_at_time(double t_s) const;
  // Greatest speed between two times.
  [[nodiscard]] double peak_between(double from_s, double to_s) const;
  // Appends the times at which the acceleration changes.
  void phase_ends(std::vector<double>& times_s) const;

 private:
  [[nodiscard]] PacedStretch const& at_time(double t_s) const;

  motion::Trapezoid const& whole_;
  motion::TrapezoidPhases phases_;  // of the whole
  std::vector<PacedStretch> const& paced_;
};

// With the dwell behind it.
[[nodiscard]] double time_of(PlannedMove const& record);

}  // namespace meltlag::adapt
