// SPDX-License-Identifier: MIT
// Look-ahead trapezoids: moves → timed phases.
//
// Along a move the speed is a trapezoid: entry → peak → exit at one acceleration a. With s the
// length,
//   peak² = min(v_max², (2·a·s + entry² + exit²) / 2).
// A junction's speed is bounded by the corner rule: for each axis |u_out − u_in|·v ≤ corner_jump, u
// the displacement per mm of path (E included); or by the circle of radius r = δ·cos(θ/2)/(1 −
// cos(θ/2)) tangent to both directions, v ≤ √(a·r), E's jump still holding. Speed is 0 at every
// halt. Backward then forward pass, look-ahead over all moves (as a printer with a long enough
// buffer). Along an e_only move length and speed are those of E; it is driven at the lesser of
// max_acceleration_mm_s2[e] and retract_acceleration_mm_s2, between halts where stops_halt says so.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "meltlag/gcode/move.hpp"
#include "meltlag/motion/limits.hpp"

namespace meltlag::motion {

// Speeds along the path (mm/s), constant acceleration in each of at most three phases.
struct Trapezoid {
  double length_mm = 0;
  double entry_mm_s = 0, peak_mm_s = 0, exit_mm_s = 0;
  double acceleration_mm_s2 = 0;

  [[nodiscard]] double rise_s() const;    // entry → peak
  [[nodiscard]] double cruise_s() const;  // at peak
  [[nodiscard]] double fall_s() const;    // peak → exit
  [[nodiscard]] double duration_s() const;
  // Path length covered after time t (0 … duration), and its inverse (closed form, s clamped to 0 …
  // length).
  [[nodiscard]] double distance_at(double t_s) const;
  [[nodiscard]] double time_at(double s_mm) const;
  [[nodiscard]] double speed_at_time(double t_s) const;
  [[nodiscard]] double speed_at_distance(double s_mm) const;
};

// A trapezoid with its phases worked out, for whoever asks many times.
class TrapezoidPhases {
 public:
  explicit TrapezoidPhases(Trapezoid const& speed);
  [[nodiscard]] double peak_mm_s() const { return speed_.peak_mm_s; }
  [[nodiscard]] double rise_s() const { return rise_s_; }
  [[nodiscard]] double cruise_s() const { return cruise_s_; }
  [[nodiscard]] double duration_s() const { return rise_s_ + cruise_s_ + fall_s_; }
  // As those of the trapezoid.
  [[nodiscard]] double distance_at(double t_s) const;
  [[nodiscard]] double time_at(double s_mm) const;
  [[nodiscard]] double speed_at_time(double t_s) const;

 private:
  Trapezoid speed_;
  double risen_mm_, fallen_mm_;  // ways of rise and fall
  double rise_s_, cruise_s_, fall_s_;
};

// A move as the printer will drive it.
struct TimedMove {
  gcode::Move move;
  Trapezoid speed;
  double start_s =
      0;  // from the beginning of the file; dwells count, waits of unknown length do not
  double top_mm_s = 0;          // the move's own greatest speed, before look-ahead
  double entry_limit_mm_s = 0;  // the corner's, at its start; 0 after a halt
};

// Receives timed moves and halts in the file's order.
class TimedSink {
 public:
  virtual ~TimedSink() = default;
  virtual void on_timed_move(TimedMove const& timed) = 0;
  virtual void on_halt(gcode::Halt const&, double /*at_s*/) {}
};

enum class PlanE : std::uint8_t {
  included,  // as the printer does
  ignored,   // the XYZ path alone: E limits are not looked at, e_only moves are dropped (not sent
             // on)
  beside_stops,  // E counts in e_only moves and at the corners next to them, nowhere else
};

struct PlannerOptions {
  Limits limits;
  PlanE e = PlanE::included;
};

// Plans in bounded memory: a move is sent on as soon as no later move can change its speed. At most
// 32,768 moves wait; a stopping way of more moves than that is planned slower than necessary, never
// faster.
class Planner {
 public:
  Planner(PlannerOptions options, TimedSink& sink);
  ~Planner();

  void push(gcode::Move const& move);
  void push(gcode::Move const& move, PlanE e);  // of this move, whatever the options say
  void push(gcode::Halt const& halt);
  void push(gcode::Setting const& setting);
  void finish();  // the file's end: the head comes to rest

  [[nodiscard]] Limits const& limits() const;  // in force for the next move pushed
  [[nodiscard]] double time_s() const;         // planned so far (of what was sent on)

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// Speed and acceleration limits of one move under `limits`, before look-ahead.
struct MoveLimits {
  double length_mm;  // of XYZ, or of E for e_only
  double speed_mm_s;
  double acceleration_mm_s2;
};
[[nodiscard]] MoveLimits move_limits(gcode::Move const& move, Limits const& limits, PlanE e);

// Greatest speed through the corner between two moves.
[[nodiscard]] double corner_speed(gcode::Move const& before,
                                  gcode::Move const& after,
                                  Limits const& limits,
                                  PlanE e);

}  // namespace meltlag::motion
