// SPDX-License-Identifier: MIT
#include "simulated_print.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

#include "meltlag/base/parallel.hpp"

namespace meltlag::compare {
namespace {

constexpr double way_slack_mm = 1e-9, time_slack_s = 1e-9;
constexpr double unset = std::numeric_limits<double>::quiet_NaN();

class PrintSimulator : public motion::WalkSink {
 public:
  PrintSimulator(std::span<melt::PlantParameters const> machines,
                 Marks const& marks,
                 SimulatedPrint& out)
      : marks_(marks), out_(out), sums_(machines.size()) {
    for (melt::PlantParameters const& machine : machines) plants_.emplace_back(machine);
    moment_.nozzle_c = unset;
    out_.machines = machines.size();
    reach_times();
  }

  void on_timed_move(motion::TimedMove const& timed) override {
    gcode::Move const& move = timed.move;
    motion::Trapezoid const& speed = timed.speed;
    double const length = move.kind == gcode::MoveKind::e_only ? 0 : move.length_mm;
    set_temperature(move.nozzle_c);
    now_s_ = timed.start_s;
    moment_.line = move.line;
    collect_times(timed, length);
    double const start_mm = moment_.way_mm;
    double const per_mm = speed.length_mm > 0 ? move.volume_mm3 / speed.length_mm : 0;
    double at = 0;
    for (double const t : times_) {
      if (t > at) {
        advance({t - at, per_mm * speed.speed_at_time(at), per_mm * speed.speed_at_time(t)});
        at = t;
      }
      now_s_ = timed.start_s + at;
      if (length > 0) {
        double const along = speed.distance_at(at);
        moment_.way_mm = start_mm + along;
        moment_.speed_mm_s = speed.speed_at_time(at);
        moment_.at_mm = gcode::point_at(move, along);
      } else {
        moment_.speed_mm_s = 0;
      }
      reach_times();
      if (length > 0) reach_ways();
    }
    if (length <= 0) return;
    moment_.way_mm = start_mm + length;
    moment_.at_mm = move.end_mm;
    reach_ways();
  }

  void on_halt(gcode::Halt const& halt, double at_s) override {
    if (halt.kind == gcode::HaltKind::wait)
      for (melt::Plant& plant : plants_) plant.run_out();
    moment_.speed_mm_s = 0;
    stand_until(at_s + halt.dwell_s);
  }

  // Times after the file's end: what is left runs out.
  void finish() {
    moment_.speed_mm_s = 0;
    moment_.line = 0;
    if (next_time_ < marks_.times_s.size()) stand_until(marks_.times_s.back());
    while (next_way_ < marks_.ways_mm.size()) note_way();
  }

 private:
  void set_temperature(double nozzle_c) {
    if (nozzle_c == moment_.nozzle_c || (std::isnan(nozzle_c) && std::isnan(moment_.nozzle_c)))
      return;
    moment_.nozzle_c = nozzle_c;
    for (melt::Plant& plant : plants_) plant.set_temperature(nozzle_c);
  }
  void advance(melt::CommandedRamp const& ramp) {
    for (std::size_t m = 0; m < plants_.size(); ++m) sums_[m] += plants_[m].advance(ramp);
  }

  // The move's times at which anything changes or is looked at, from its start.
  void collect_times(motion::TimedMove const& timed, double length) {
    motion::Trapezoid const& speed = timed.speed;
    double const duration = speed.duration_s();
    times_.assign({speed.rise_s(), speed.rise_s() + speed.cruise_s(), duration});
    double const end_mm = moment_.way_mm + length;
    for (std::size_t k = next_way_; k < marks_.ways_mm.size() && marks_.ways_mm[k] < end_mm; ++k)
      times_.push_back(speed.time_at(std::max(0.0, marks_.ways_mm[k] - moment_.way_mm)));
    for (std::size_t k = next_time_; k < marks_.times_s.size(); ++k) {
      double const t = marks_.times_s[k] - timed.start_s;
      if (t > duration) break;
      times_.push_back(std::max(0.0, t));
    }
    if (times_.size() > 3) std::sort(times_.begin(), times_.end());
  }

  void stand_until(double end_s) {
    while (now_s_ < end_s) {
      double until = end_s;
      if (next_time_ < marks_.times_s.size())
        until = std::clamp(marks_.times_s[next_time_], now_s_, end_s);
      if (until > now_s_) advance({until - now_s_, 0, 0});
      now_s_ = until;
      reach_times();
    }
  }

  void reach_times() {
    while (next_time_ < marks_.times_s.size() &&
           marks_.times_s[next_time_] <= now_s_ + time_slack_s) {
      for (std::size_t m = 0; m < plants_.size(); ++m) {
        out_.out_at_time_mm3.push_back(sums_[m]);
        out_.flow_mm3_s.push_back(plants_[m].flow_mm3_s());
        out_.run_on_mm3.push_back(plants_[m].run_on_mm3());
      }
      out_.moments.push_back(moment_);
      ++next_time_;
    }
  }
  void reach_ways() {
    while (next_way_ < marks_.ways_mm.size() &&
           marks_.ways_mm[next_way_] <= moment_.way_mm + way_slack_mm)
      note_way();
  }
  void note_way() {
    out_.out_at_way_mm3.insert(out_.out_at_way_mm3.end(), sums_.begin(), sums_.end());
    out_.way_s.push_back(now_s_);
    out_.way_at_mm.push_back(moment_.at_mm);
    ++next_way_;
  }

  Marks const& marks_;
  SimulatedPrint& out_;
  std::vector<melt::Plant> plants_;
  std::vector<double> sums_, times_;
  std::size_t next_way_ = 0, next_time_ = 0;
  double now_s_ = 0;
  Moment moment_;
};

SimulatedPrint simulate(std::string const& path,
                        std::span<melt::PlantParameters const> machines,
                        Marks const& marks,
                        motion::WalkOptions const& options,
                        Notices& notices) {
  SimulatedPrint laid;
  PrintSimulator simulator(machines, marks, laid);
  motion::walk(path, options, notices, simulator);
  simulator.finish();
  return laid;
}

// Both halves' machines in turn, mark by mark.
std::vector<double> joined(std::vector<double> const& a,
                           std::size_t a_machines,
                           std::vector<double> const& b,
                           std::size_t b_machines) {
  std::vector<double> out;
  out.reserve(a.size() + b.size());
  auto from_a = a.begin(), from_b = b.begin();
  while (from_a != a.end()) {
    auto const to_a = from_a + static_cast<std::ptrdiff_t>(a_machines);
    auto const to_b = from_b + static_cast<std::ptrdiff_t>(b_machines);
    out.insert(out.end(), from_a, to_a);
    out.insert(out.end(), from_b, to_b);
    from_a = to_a;
    from_b = to_b;
  }
  return out;
}

}  // namespace

// Reading is cheap beside the machines' own equations: two walks at once, each with half of them.
SimulatedPrint simulate_print(std::string const& path,
                              std::span<melt::PlantParameters const> machines,
                              Marks const& marks,
                              motion::WalkOptions const& options,
                              Notices& notices) {
  assert(std::is_sorted(marks.ways_mm.begin(), marks.ways_mm.end()));
  assert(std::is_sorted(marks.times_s.begin(), marks.times_s.end()));
  if (machines.size() < 2) return simulate(path, machines, marks, options, notices);
  std::size_t const half = machines.size() / 2;
  SimulatedPrint laid, other;
  Notices told_already;
  in_parallel(2, 0, [&](std::size_t which) {
    if (which == 0) laid = simulate(path, machines.first(half), marks, options, notices);
    if (which == 1) other = simulate(path, machines.subspan(half), marks, options, told_already);
  });
  auto const join = [&](std::vector<double> SimulatedPrint::*which) {
    laid.*which = joined(laid.*which, half, other.*which, other.machines);
  };
  join(&SimulatedPrint::out_at_way_mm3);
  join(&SimulatedPrint::out_at_time_mm3);
  join(&SimulatedPrint::flow_mm3_s);
  join(&SimulatedPrint::run_on_mm3);
  laid.machines = machines.size();
  return laid;
}

}  // namespace meltlag::compare
