// SPDX-License-Identifier: MIT
// What the printer is asked for: times and peaks of a file.
#pragma once

#include "figure_ring.hpp"
#include "meltlag/adapt/figure.hpp"
#include "meltlag/motion/planner.hpp"

namespace meltlag::adapt {

// Gathers peaks of screw and line rate from timed moves.
class Peaks {
 public:
  Peaks(melt::Feed const& feed, Figure& figure) : factor_(feed.delivered_factor), figure_(figure) {}
  void move(motion::TimedMove const& timed);
  void halt() { starts_s_.clear(); }

 private:
  double factor_;
  Figure& figure_;
  Ring<double> starts_s_;  // of the last moves
};

// Plans the XYZ path alone, for its time.
class PathClock : motion::TimedSink {
 public:
  explicit PathClock(motion::Limits const& limits)
      : planner_({.limits = limits, .e = motion::PlanE::ignored}, *this) {}
  PathClock(PathClock const&) = delete;
  PathClock& operator=(PathClock const&) = delete;
  template <class Event>
  void push(Event const& event) {
    planner_.push(event);
  }
  [[nodiscard]] double finish() {
    planner_.finish();
    return planner_.time_s();
  }

 private:
  void on_timed_move(motion::TimedMove const&) override {}
  void on_halt(gcode::Halt const&, double) override {}
  motion::Planner planner_;
};

}  // namespace meltlag::adapt
