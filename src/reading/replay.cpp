// SPDX-License-Identifier: MIT
#include "meltlag/reading/replay.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace meltlag::reading {
namespace {

constexpr double way_slack_mm = 1e-9;
constexpr double ripple_step_turns = 1.0 / 24;  // u is taken as linear in so much of a turn
constexpr double creep_step = 1.0 / 50;         // of creep_s, between two exchanges

// One machine on its way through the print.
class Run {
 public:
  explicit Run(TestedPlant const& tested)
      : tested_(tested),
        plant_(fast_plant(tested)),
        slow_per_fast_(tested.creep_share / (1 - tested.creep_share)) {}

  void set_temperature(double nozzle_c) {
    if (nozzle_c == nozzle_c_ || (std::isnan(nozzle_c) && std::isnan(nozzle_c_))) return;
    nozzle_c_ = nozzle_c;
    plant_.set_temperature(nozzle_c);
  }
  void run_out() {
    plant_.run_out();
    slow_mm3_ = 0;
  }
  double advance(melt::CommandedRamp const& ramp, double e_mm, double mm2) {
    bool const pulses = tested_.e_mm_per_turn > 0 &&
                        (tested_.pulse_cos != 0 || tested_.pulse_sin != 0) &&
                        ramp.commanded_start_mm3_s + ramp.commanded_end_mm3_s != 0;
    return pulses ? pulsing(ramp, e_mm, mm2) : creeping(ramp);
  }

 private:
  static melt::PlantParameters fast_plant(TestedPlant const& tested) {
    melt::PlantParameters fast = tested.plant;
    fast.law.run_on_mm3 *= 1 - tested.creep_share;
    return fast;
  }
  [[nodiscard]] double ripple(double e_mm) const {
    double const turn = 2 * std::numbers::pi * e_mm / tested_.e_mm_per_turn;
    return std::max(0.0,
                    1 + tested_.pulse_cos * std::cos(turn) + tested_.pulse_sin * std::sin(turn));
  }

  double pulsing(melt::CommandedRamp const& ramp, double e_mm, double mm2) {
    double const u = ramp.commanded_start_mm3_s, v = ramp.commanded_end_mm3_s;
    double const turns = std::abs(u + v) / 2 * ramp.duration_s / mm2 / tested_.e_mm_per_turn;
    int const parts = std::max(1, static_cast<int>(std::ceil(turns / ripple_step_turns)));
    double const h = ramp.duration_s / parts;
    double out = 0, rate = u, e = e_mm;
    for (int i = 0; i < parts; ++i) {
      double const next = u + (v - u) * (i + 1) / parts;
      double const e_next = e + (rate + next) / 2 * h / mm2;
      out += creeping({h, rate * ripple(e), next * ripple(e_next)});
      rate = next;
      e = e_next;
    }
    return out;
  }

  double creeping(melt::CommandedRamp const& ramp) {
    if (tested_.creep_share <= 0 || tested_.creep_s <= 0) return plant_.advance(ramp);
    int const parts =
        std::max(1, static_cast<int>(std::ceil(ramp.duration_s / (creep_step * tested_.creep_s))));
    double const h = ramp.duration_s / parts;
    double const slope = (ramp.commanded_end_mm3_s - ramp.commanded_start_mm3_s) / parts;
    double out = 0, rate = ramp.commanded_start_mm3_s;
    for (int i = 0; i < parts; ++i, rate += slope) {
      double const next = i + 1 == parts ? ramp.commanded_end_mm3_s : rate + slope;
      exchange(h / 2);
      out += plant_.advance({h, rate, next});
      exchange(h / 2);
    }
    return out;
  }

  // Fast and slow store even out for t while nothing else happens; their sum stays.
  void exchange(double t_s) {
    double const fast = std::max(0.0, plant_.run_on_mm3());
    double const target = slow_per_fast_ / (1 + slow_per_fast_) * (fast + slow_mm3_);
    double const change =
        (target - slow_mm3_) * -std::expm1(-(1 + slow_per_fast_) * t_s / tested_.creep_s);
    slow_mm3_ += change;
    plant_.set_run_on(plant_.run_on_mm3() - change);
  }

  TestedPlant const& tested_;
  melt::Plant plant_;
  double slow_per_fast_, slow_mm3_ = 0;
  double nozzle_c_ = std::numeric_limits<double>::quiet_NaN();
};

}  // namespace

Replay::Replay(PrintedPath const& path, std::span<double const> places_mm)
    : places_(places_mm.size()), filament_mm2_(path.filament_mm2) {
  assert(std::is_sorted(places_mm.begin(), places_mm.end()));
  auto rest = path.rests.begin();
  for (std::size_t i = 0; i < path.moves.size() && reached_ < places_; ++i) {
    for (; rest != path.rests.end() && rest->before_move == i; ++rest) add_rest(*rest);
    add_move(path.moves[i], places_mm);
  }
}

void Replay::add_rest(PathRest const& rest) {
  steps_.push_back({.duration_s = rest.dwell_s,
                    .from_mm3_s = 0,
                    .to_mm3_s = 0,
                    .e_mm = e_mm_,
                    .nozzle_c = steps_.empty() ? std::numeric_limits<double>::quiet_NaN()
                                               : steps_.back().nozzle_c,
                    .runs_out = rest.unknown_length});
}

void Replay::add_move(PathMove const& move, std::span<double const> places_mm) {
  motion::Trapezoid const& speed = move.timed.speed;
  gcode::Move const& meant = move.timed.move;
  double const end_mm = move.way_mm + move.length_mm();
  std::vector<double> times{speed.rise_s(), speed.rise_s() + speed.cruise_s(), speed.duration_s()};
  if (move.length_mm() > 0) {
    for (std::size_t k = reached_; k < places_mm.size() && places_mm[k] < end_mm; ++k)
      times.push_back(speed.time_at(std::max(0.0, places_mm[k] - move.way_mm)));
    std::sort(times.begin(), times.end());
  }
  double const per_mm = speed.length_mm > 0 ? meant.volume_mm3 / speed.length_mm : 0;
  double const e_per_mm = speed.length_mm > 0 ? meant.e_mm / speed.length_mm : 0;
  double at = 0;
  for (double const t : times) {
    if (t > at) {
      steps_.push_back({.duration_s = t - at,
                        .from_mm3_s = per_mm * speed.speed_at_time(at),
                        .to_mm3_s = per_mm * speed.speed_at_time(t),
                        .e_mm = e_mm_ + e_per_mm * speed.distance_at(at),
                        .nozzle_c = meant.nozzle_c});
      at = t;
    }
    if (move.length_mm() > 0) reach(places_mm, move.way_mm + speed.distance_at(at));
  }
  e_mm_ += meant.e_mm;
  if (move.length_mm() > 0) reach(places_mm, end_mm);
}

void Replay::reach(std::span<double const> places_mm, double way_mm) {
  while (reached_ < places_mm.size() && places_mm[reached_] <= way_mm + way_slack_mm) {
    if (steps_.empty())
      steps_.push_back({.duration_s = 0,
                        .from_mm3_s = 0,
                        .to_mm3_s = 0,
                        .e_mm = 0,
                        .nozzle_c = std::numeric_limits<double>::quiet_NaN()});
    ++steps_.back().places_reached;
    ++reached_;
  }
}

std::vector<double> Replay::out_mm3(TestedPlant const& plant) const {
  std::vector<double> out;
  out.reserve(places_);
  Run run(plant);
  double sum = 0;
  for (Step const& step : steps_) {
    if (step.runs_out) {
      run.run_out();
    } else {
      run.set_temperature(step.nozzle_c);
      sum +=
          run.advance({step.duration_s, step.from_mm3_s, step.to_mm3_s}, step.e_mm, filament_mm2_);
    }
    for (int i = 0; i < step.places_reached; ++i) out.push_back(sum);
  }
  out.resize(places_, sum);
  return out;
}

}  // namespace meltlag::reading
