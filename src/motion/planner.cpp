// SPDX-License-Identifier: MIT
// Streaming look-ahead. Let v_i be the speed at which pending move i begins, j_i its corner limit
// and g_i = 2·a·s. Planned backward from a stop after the newest move,
//   b_i² = min(j_i², b_{i+1}² + g_i),
// and forward from the known entry, v_{i+1}² = min(b_{i+1}², v_i² + g_i). Later moves can only
// raise the b_i, and cannot raise those up to the last corner with b = j: speeds up to there are
// final, and so are those that follow it as long as forward acceleration alone limits them. The
// final speeds come from the same operations as in a plan of the whole list, so they are equal bit
// by bit.
#include "meltlag/motion/planner.hpp"

#include <algorithm>
#include <cmath>

#include "geometry.hpp"

namespace meltlag::motion {
namespace {

constexpr std::size_t smallest_batch = 512;
// The stopping way in moves that is kept at most; beyond it (stopping ways of metres, or absurd
// accelerations) the pessimistic plan stands, which is slower than necessary, never faster.
constexpr std::size_t most_pending = 32768;

struct Node {
  double entry_limit2;  // j_i²
  double gain;          // g_i
  double top_mm_s;      // the move's own speed limit
  double entry2;        // b_i²
};

enum class Ahead { more_moves, stop };

}  // namespace

struct Planner::State {
  Limits limits;
  PlanE e;
  TimedSink* sink;
  std::vector<TimedMove> moves;  // pending, with their length and acceleration filled in
  std::vector<Node> nodes;       // one per pending move
  CornerSide newest{};           // the end of the newest move
  PerAxis newest_with_e{};       // its direction, E included
  double entry2 = 0;             // final entry speed² of the oldest pending move
  std::size_t next_batch = smallest_batch;
  bool newest_halts = false;  // an E-only move at which the printer rests
  long double time_s = 0;

  void push(gcode::Move const& move, PlanE how);
  [[nodiscard]] double corner(gcode::Move const& move, PlanE how, CornerSide out) const;
  void send_final(Ahead ahead);
  std::size_t plan_backward();
  void send(std::size_t index, double exit2);
  void drop_front(std::size_t count);
  void come_to_rest() {
    send_final(Ahead::stop);
    next_batch = smallest_batch;
  }
};

// Next to a move of E alone the printer compares E's speeds on both sides.
double Planner::State::corner(gcode::Move const& move, PlanE how, CornerSide out) const {
  bool const e_only = move.kind == gcode::MoveKind::e_only;
  bool const beside = e_only || moves.back().move.kind == gcode::MoveKind::e_only;
  CornerSide in = newest;
  if (beside) {
    in.per_mm = newest_with_e;
    if (how == PlanE::beside_stops) out.per_mm = ends_of(move, PlanE::included).first;
  }
  return corner_speed_of(in, out, limits);
}

void Planner::State::push(gcode::Move const& move, PlanE how) {
  bool const without_e = how == PlanE::beside_stops && move.kind != gcode::MoveKind::e_only;
  Ends const ends = ends_of(move, without_e ? PlanE::ignored : how);
  MoveLimits const own = limits_of(move, ends, limits);
  bool const halts = limits.stops_halt && move.kind == gcode::MoveKind::e_only;
  double const at_corner =
      moves.empty() || halts || newest_halts
          ? 0
          : corner(move, how, {ends.first, own.speed_mm_s, own.acceleration_mm_s2});
  nodes.push_back({.entry_limit2 = at_corner * at_corner,
                   .gain = 2 * own.acceleration_mm_s2 * own.length_mm,
                   .top_mm_s = own.speed_mm_s,
                   .entry2 = 0});
  TimedMove& timed = moves.emplace_back();
  timed.move = move;
  timed.speed.length_mm = own.length_mm;
  timed.speed.acceleration_mm_s2 = own.acceleration_mm_s2;
  newest_halts = halts;
  newest_with_e = without_e ? ends_of(move, PlanE::included).last : ends.last;
  newest = {ends.last, own.speed_mm_s, own.acceleration_mm_s2};
  if (moves.size() >= next_batch) {
    send_final(Ahead::more_moves);
    next_batch = std::min(most_pending, std::max(smallest_batch, 2 * moves.size()));
  }
}

// Fills in b_i² of all but the oldest move; returns the last corner that reaches its own limit (0:
// none).
std::size_t Planner::State::plan_backward() {
  std::size_t last_free = 0;
  double next2 = 0;
  for (std::size_t i = nodes.size() - 1; i > 0; --i) {
    double const reach2 = next2 + nodes[i].gain;
    bool const free = reach2 >= nodes[i].entry_limit2;
    next2 = nodes[i].entry2 = free ? nodes[i].entry_limit2 : reach2;
    if (free && last_free == 0) {
      last_free = i;
    }
  }
  return last_free;
}

void Planner::State::send_final(Ahead ahead) {
  std::size_t const count = moves.size();
  if (count == 0) {
    return;
  }
  std::size_t sure = plan_backward();
  if (count >= most_pending) {
    sure = std::max(sure, count / 2);
  }
  std::size_t sent = 0;
  for (; sent < count; ++sent) {
    double const reach2 = entry2 + nodes[sent].gain;
    bool const last = sent + 1 == count;
    double const bound2 = last ? 0 : nodes[sent + 1].entry2;
    bool const final = ahead == Ahead::stop || sent + 1 <= sure || (!last && reach2 <= bound2);
    if (!final) {
      break;
    }
    send(sent, std::min(bound2, reach2));
  }
  drop_front(sent);
}

void Planner::State::send(std::size_t index, double exit2) {
  TimedMove& timed = moves[index];
  Trapezoid& speed = timed.speed;
  double const middle2 = (nodes[index].gain + entry2 + exit2) / 2;
  speed.entry_mm_s = std::sqrt(entry2);
  speed.exit_mm_s = std::sqrt(exit2);
  speed.peak_mm_s = std::max(
      {std::min(nodes[index].top_mm_s, std::sqrt(middle2)), speed.entry_mm_s, speed.exit_mm_s});
  timed.start_s = static_cast<double>(time_s);
  timed.top_mm_s = nodes[index].top_mm_s;
  timed.entry_limit_mm_s = std::sqrt(nodes[index].entry_limit2);
  time_s += speed.duration_s();
  entry2 = exit2;
  sink->on_timed_move(timed);
}

void Planner::State::drop_front(std::size_t count) {
  auto const n = static_cast<std::ptrdiff_t>(count);
  moves.erase(moves.begin(), moves.begin() + n);
  nodes.erase(nodes.begin(), nodes.begin() + n);
}

Planner::Planner(PlannerOptions options, TimedSink& sink) : state_(std::make_unique<State>()) {
  state_->limits = options.limits;
  state_->e = options.e;
  state_->sink = &sink;
}

Planner::~Planner() = default;

void Planner::push(gcode::Move const& move) { push(move, state_->e); }

void Planner::push(gcode::Move const& move, PlanE e) {
  if (e == PlanE::ignored && move.kind == gcode::MoveKind::e_only) {
    return;
  }
  state_->push(move, e);
}

void Planner::push(gcode::Halt const& halt) {
  state_->come_to_rest();
  state_->sink->on_halt(halt, static_cast<double>(state_->time_s));
  if (halt.kind == gcode::HaltKind::dwell && halt.dwell_s > 0) {
    state_->time_s += halt.dwell_s;
  }
}

void Planner::push(gcode::Setting const& setting) { apply(setting, state_->limits); }

void Planner::finish() { state_->come_to_rest(); }

Limits const& Planner::limits() const { return state_->limits; }

double Planner::time_s() const { return static_cast<double>(state_->time_s); }

}  // namespace meltlag::motion
