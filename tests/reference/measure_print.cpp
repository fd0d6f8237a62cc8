// SPDX-License-Identifier: MIT
// A hidden machine prints: the head's way, and what leaves the nozzle along it.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "measure.hpp"

namespace meltlag_reference {
namespace {

constexpr double gas_constant = 8.314462618;  // J/(mol K)
constexpr double record_every_mm = 0.05;      // between records the volume is taken as linear
constexpr double shortest_step_s = 1e-7;
constexpr double straight_on = 1 - 1e-6;      // cosine between neighbours of one straight
constexpr double bend_over = 1.5;             // of ln(flow)
constexpr double friction_turns_over = 0.05;  // of the run-on at the reference flow
constexpr double wander_step_s = 0.05;        // between these it is linear

struct Direction {
  double x = 0, y = 0, z = 0;
};

Direction direction(const Move& move) {
  if (move.arc || move.length_mm <= 0) return {};
  const double l = move.length_mm;
  return {(move.end_mm[0] - move.start_mm[0]) / l,
          (move.end_mm[1] - move.start_mm[1]) / l,
          (move.end_mm[2] - move.start_mm[2]) / l};
}

double cosine(const Direction& a, const Direction& b) { return a.x * b.x + a.y * b.y + a.z * b.z; }

void find_straights(HeadMotion& motion) {
  const std::vector<Move>& moves = motion.program.moves;
  motion.straight_from_mm = motion.straight_to_mm = motion.way_mm;
  std::vector<std::size_t> straight;  // head moves of the present straight
  const auto close = [&] {
    if (straight.empty()) return;
    const std::size_t last = straight.back();
    for (const std::size_t i : straight) {
      motion.straight_from_mm[i] = motion.way_mm[straight.front()];
      motion.straight_to_mm[i] = motion.way_mm[last] + moves[last].length_mm;
    }
    straight.clear();
  };
  for (std::size_t i = 0; i < moves.size(); ++i) {
    if (moves[i].kind == MoveKind::e_only) continue;
    if (!straight.empty() &&
        cosine(direction(moves[straight.back()]), direction(moves[i])) < straight_on) {
      close();
    }
    straight.push_back(i);
  }
  close();
}

// The feed's wandering over time, made as it is asked for; times ascend.
class Wander {
 public:
  explicit Wander(const HiddenMachine& machine)
      : share_(machine.wander_share),
        alike_(share_ > 0 ? std::exp(-wander_step_s / machine.wander_s) : 0),
        dice_(machine.wander_seed) {
    if (share_ > 0) from_ = to_ = dice_.normal();
  }
  double at(double seconds) {
    if (share_ == 0) return 0;
    while (seconds > start_ + wander_step_s) {
      from_ = to_;
      to_ = alike_ * from_ + std::sqrt(1 - alike_ * alike_) * dice_.normal();
      start_ += wander_step_s;
    }
    return share_ * (from_ + (to_ - from_) * (seconds - start_) / wander_step_s);
  }

 private:
  double share_, alike_;
  Dice dice_;
  double start_ = 0, from_ = 0, to_ = 0;
};

// What flows where, per second, and the same added up over a step.
struct Rates {
  double fast = 0, slow = 0, out = 0, leaked = 0, fed = 0;
};

class Melt {
 public:
  Melt(const HiddenMachine& machine, const StepSizes& steps, Print& print)
      : machine_(machine), steps_(steps), print_(print), screw_(machine.plant), wander_(machine) {
    const Plant& p = machine.plant;
    if (!(p.run_on_mm3 > 0) || !(p.flow_index > 0) || !(p.at_flow_mm3_s > 0)) {
      throw std::invalid_argument("run-on, reference flow and flow index must be positive");
    }
    slow_per_fast_ = machine.creep_share / (1 - machine.creep_share);
    set_temperature({});
  }

  void set_temperature(std::optional<double> set_c) {
    const Plant& p = machine_.plant;
    size_ = p.run_on_mm3 * (1 - machine_.creep_share);
    lag_of_ = 0;
    lag_s_ = 1e9;
    if (!set_c || !p.at_c || !p.activation_kj_mol) return;
    const double by = 1 / (*set_c + 273.15) - 1 / (*p.at_c + 273.15);
    size_ *= std::exp(*p.activation_kj_mol * 1000 / gas_constant * by);
  }

  // Constant acceleration; E follows the path, `moves` 1 where the head does, else 0.
  void advance(double v0, double a, double seconds, double e_per_mm, double moves) {
    double done = 0;
    for (const Feed& feed : screw_.turn(v0, a, seconds, e_per_mm)) {
      stretch(v0 + a * done, a, feed, e_per_mm, moves);
      done += feed.seconds;
    }
  }

  void run_out() {
    print_.ran_out_mm3 += std::max(0.0, fast_) + slow_;
    fast_ = std::min(0.0, fast_);
    slow_ = 0;
    screw_.wait();
  }

  // Keeps place and volume in the table.
  void record(double place_mm) {
    // Rounding at the end of a move must not turn the order.
    if (!print_.way_mm.empty()) place_mm = std::max(place_mm, print_.way_mm.back());
    print_.way_mm.push_back(place_mm);
    print_.out_mm3.push_back(out_);
  }
  double way_mm = 0;
  double stored() const { return fast_ + slow_; }

 private:
  double flow(double fast) const {
    if (fast <= 0) return 0;
    const Plant& p = machine_.plant;
    const double pressed = fast / size_ * (1 + machine_.hysteresis / 2 * friction_);
    const double x = std::pow(pressed, 1 / p.flow_index);
    if (machine_.bend == 0) return p.at_flow_mm3_s * x;
    return p.at_flow_mm3_s * x * std::exp(-machine_.bend * std::tanh(std::log(x) / bend_over));
  }

  // dW/dQ of the steady bead that u makes; kept while u stays.
  double lag_for(double u) {
    if (u == lag_of_) return lag_s_;
    const Plant& p = machine_.plant;
    const double part = std::abs(u) / p.at_flow_mm3_s;
    lag_of_ = u;
    lag_s_ =
        u == 0 ? 1e9 : p.flow_index * size_ / p.at_flow_mm3_s * std::pow(part, p.flow_index - 1);
    return lag_s_;
  }

  // Of the mean that the screw delivers, at a place of E.
  double pulse(double e) const {
    if (!(machine_.mm_per_turn > 0)) return 1;
    const double turn = 2 * std::numbers::pi * e / machine_.mm_per_turn;
    return 1 + machine_.pulse_share * std::sin(turn + machine_.pulse_phase_rad);
  }

  Rates rates(double u, double fast, double slow) const {
    Rates r;
    r.fed = u;
    r.out = flow(fast);
    r.leaked = machine_.plant.leak_per_s * std::max(0.0, fast);
    if (machine_.creep_share > 0) {
      r.slow = (slow_per_fast_ * std::max(0.0, fast) - slow) / machine_.creep_s;
    }
    r.fast = u - r.out - r.leaked - r.slow;
    return r;
  }

  double step_size(double u, double speed, double left) {
    double h = std::min(left, steps_.longest_s);
    if (speed > 0) h = std::min(h, std::max(record_every_mm / speed, shortest_step_s));
    const double q = flow(fast_);
    const double lag_now = q > 0 ? machine_.plant.flow_index * fast_ / q : 1e9;
    const double lag = std::min(lag_now, lag_for(u));
    h = std::min(h, std::max(lag / steps_.steps_per_lag, shortest_step_s));
    if (machine_.creep_share > 0) h = std::min(h, machine_.creep_s / steps_.steps_per_lag);
    return h;
  }

  void stretch(double v0, double a, const Feed& feed, double e_per_mm, double moves) {
    const double seconds = feed.seconds;
    const double e0 = e_, way0 = way_mm;
    const auto u_at = [&](double t) {
      return (feed.mm3_s + feed.mm3_s2 * t) * pulse(e0 + e_per_mm * (v0 * t + a * t * t / 2));
    };
    double t = 0, recorded = way0;
    while (seconds - t > 1e-12) {
      const double u = u_at(t), h = step_size(u, moves * (v0 + a * t), seconds - t);
      const double wander = 1 + wander_.at(now_s_);
      runge_kutta(wander * u, wander * u_at(t + h / 2), wander * u_at(t + h), h);
      now_s_ += h;
      t += h;
      way_mm = way0 + moves * (v0 * t + a * t * t / 2);
      if (way_mm - recorded >= record_every_mm * (1 - 1e-9)) {
        record(way_mm);
        recorded = way_mm;
      }
    }
    e_ = e0 + e_per_mm * (v0 * seconds + a * seconds * seconds / 2);
  }

  void runge_kutta(double u, double um, double ue, double h) {
    const Rates a = rates(u, fast_, slow_);
    const Rates b = rates(um, fast_ + h / 2 * a.fast, slow_ + h / 2 * a.slow);
    const Rates c = rates(um, fast_ + h / 2 * b.fast, slow_ + h / 2 * b.slow);
    const Rates d = rates(ue, fast_ + h * c.fast, slow_ + h * c.slow);
    const auto sum = [&](double Rates::*x) {
      return h / 6 * (a.*x + 2 * (b.*x) + 2 * (c.*x) + d.*x);
    };
    const double more = sum(&Rates::fast);
    fast_ += more;
    friction_ = std::clamp(friction_ + more / (friction_turns_over * size_), -1.0, 1.0);
    slow_ += sum(&Rates::slow);
    out_ += sum(&Rates::out);
    print_.leaked_mm3 += sum(&Rates::leaked);
    print_.fed_mm3 += sum(&Rates::fed);
  }

  const HiddenMachine& machine_;
  StepSizes steps_;
  Print& print_;
  double slow_per_fast_ = 0, size_ = 1;
  double lag_of_ = 0, lag_s_ = 1e9;
  double fast_ = 0, slow_ = 0, out_ = 0;
  double e_ = 0, now_s_ = 0;
  double friction_ = 0;
  Screw screw_;
  Wander wander_;
};

}  // namespace

std::size_t HeadMotion::find(std::size_t line) const {
  const auto at = std::lower_bound(
      program.moves.begin(), program.moves.end(), line, [](const Move& move, std::size_t number) {
        return move.line < number;
      });
  if (at == program.moves.end() || at->line != line) {
    throw std::runtime_error("line " + std::to_string(line) + " of the file moves nothing");
  }
  return static_cast<std::size_t>(at - program.moves.begin());
}

HeadMotion plan_motion(std::string_view gcode, const Machine& machine, double slicer_diameter_mm) {
  Plant plant;
  plant.slicer_diameter_mm = slicer_diameter_mm;
  HeadMotion motion;
  motion.program = read_program(gcode, machine, plant);
  motion.timed = plan(motion.program, machine, PlanMode::full);
  double way = 0;
  for (const Move& move : motion.program.moves) {
    motion.way_mm.push_back(way);
    way += move.length_mm;
  }
  find_straights(motion);
  return motion;
}

Print simulate_print(const HeadMotion& motion,
                     const HiddenMachine& machine,
                     const StepSizes& steps) {
  Print print;
  Melt melt(machine, steps, print);
  const Program& program = motion.program;
  std::size_t halt = 0;
  melt.record(0);
  for (std::size_t j = 0; j <= program.moves.size(); ++j) {
    for (; halt < program.halts.size() && program.halts[halt].before_move == j; ++halt) {
      melt.set_temperature(program.halts[halt].set_c);
      if (program.halts[halt].kind == HaltKind::wait) melt.run_out();
      melt.advance(0, 0, program.halts[halt].seconds, 0, 0);
    }
    if (j == program.moves.size()) break;
    const Move& move = program.moves[j];
    const Timed& t = motion.timed[j];
    const bool head = move.kind != MoveKind::e_only;
    const double e_per_mm = head ? move.e_mm / move.length_mm : move.e_mm > 0 ? 1 : -1;
    const double moves = head ? 1 : 0;
    melt.set_temperature(move.set_c);
    melt.way_mm = motion.way_mm[j];
    melt.record(melt.way_mm);  // what left at a standstill lies after this place
    print.starts.push_back(print.way_mm.size() - 1);
    melt.advance(t.v_in_mm_s, t.a_mm_s2, t.accelerate_s, e_per_mm, moves);
    melt.advance(t.v_peak_mm_s, 0, t.cruise_s, e_per_mm, moves);
    melt.advance(t.v_peak_mm_s, -t.a_mm_s2, t.brake_s, e_per_mm, moves);
    melt.way_mm = motion.way_mm[j] + move.length_mm;
    melt.record(melt.way_mm);
  }
  melt.record(melt.way_mm);
  print.left_mm3 = melt.stored();
  return print;
}

// The volume before what left at a standstill exactly there.
double Print::until(double way) const {
  const auto at = std::lower_bound(way_mm.begin(), way_mm.end(), way);
  if (at == way_mm.end()) return out_mm3.back();
  const std::size_t i = static_cast<std::size_t>(at - way_mm.begin());
  if (i == 0 || *at == way) return out_mm3[i];
  const double part = (way - way_mm[i - 1]) / (way_mm[i] - way_mm[i - 1]);
  return out_mm3[i - 1] + part * (out_mm3[i] - out_mm3[i - 1]);
}

}  // namespace meltlag_reference
