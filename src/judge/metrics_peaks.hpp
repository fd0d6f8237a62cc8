// SPDX-License-Identifier: MIT
// What the printer is asked for: times and peaks of a file.
#pragma once

#include <map>

#include "meltlag/judge/judge.hpp"
#include "meltlag/motion/planner.hpp"
#include "ring.hpp"

namespace meltlag::judge {

// Gathers peaks of screw and line rate from timed moves.
class Peaks {
 public:
  Peaks(melt::PlantParameters const& plant, PrintMetrics& metrics)
      : factor_(plant.feed.delivered_factor),
        max_flow_mm3_s_(plant.supply.max_flow_mm3_s),
        metrics_(metrics) {}
  void move(motion::TimedMove const& timed);
  void finish();
  void halt() { starts_s_.clear(); }

 private:
  void print(motion::TimedMove const& timed, double flow_mm3_s);

  double factor_, max_flow_mm3_s_;
  PrintMetrics& metrics_;
  double printed_mm3_ = 0;
  std::map<int, double> too_much_mm3_;  // by the speed that could be fed, in speed_step_mm_s
  Ring<double> starts_s_;               // of the last moves
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
  motion::Planner planner_;
};

}  // namespace meltlag::judge
