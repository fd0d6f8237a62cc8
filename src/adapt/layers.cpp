// SPDX-License-Identifier: MIT
#include "layers.hpp"

#include <algorithm>
#include <cmath>
#include <deque>

#include "meltlag/judge/path_piece.hpp"
#include "meltlag/motion/planner.hpp"
#include "speed_profile.hpp"

namespace meltlag::adapt {
namespace {

constexpr double slowest_factor = 0.2;

constexpr int most_passes = 4;
constexpr double close_s = 0.02;  // a layer may take that much longer or shorter

struct LayerSum {
  double all_s = 0;     // of all moves
  double cruise_s = 0;  // at the speed that is asked for
};

// Adds up the times of one plan by layer.
class LayerClock final : public motion::TimedSink {
 public:
  explicit LayerClock(motion::Limits const& limits)
      : planner_({limits, motion::PlanE::included}, *this) {}
  void push(gcode::Move const& move, std::size_t layer, motion::PlanE e) {
    layers_.push_back(layer);
    planner_.push(move, e);
  }
  template <class Event>
  void push(Event const& event) {
    planner_.push(event);
  }
  [[nodiscard]] motion::Limits const& limits() const { return planner_.limits(); }
  std::vector<LayerSum> const& finish() {
    planner_.finish();
    return times_;
  }
  void on_timed_move(motion::TimedMove const& timed) override {
    std::size_t const layer = layers_.front();
    layers_.pop_front();
    if (times_.size() <= layer) times_.resize(layer + 1);
    times_[layer].all_s += timed.speed.duration_s();
    times_[layer].cruise_s += timed.speed.cruise_s();
  }

 private:
  motion::Planner planner_;
  std::deque<std::size_t> layers_;  // of moves that are not timed yet
  std::vector<LayerSum> times_;
};

// The file as it is, and as it will be driven with the factors.
class LayerSurvey final : public gcode::MeaningSink {
 public:
  LayerSurvey(motion::Limits const& limits,
              RetractPolicyOptions const& retract_policy,
              std::vector<double> const& factors,
              double delivered_factor)
      : factors_(factors),
        delivered_factor_(delivered_factor),
        before_(limits),
        after_(limits),
        retract_policy_(retract_policy, [this](Entry&& e) { take(e); }) {}
  void on_move(gcode::Move const& move) override {
    before_.push(move, layer_of(move, before_counter_), motion::PlanE::included);
    retract_policy_.push(move);
  }
  void on_halt(gcode::Halt const& halt) override {
    before_.push(halt);
    retract_policy_.push(halt);
  }
  void on_setting(gcode::Setting const& setting) override {
    before_.push(setting);
    retract_policy_.push(setting);
  }
  std::vector<LayerSum> const& before() { return before_.finish(); }
  std::vector<LayerSum> const& after() {
    retract_policy_.finish();
    return after_.finish();
  }

 private:
  void take(Entry& entry) {
    if (auto* halt = std::get_if<gcode::Halt>(&entry)) return after_.push(*halt);
    if (auto* setting = std::get_if<gcode::Setting>(&entry)) return after_.push(*setting);
    PlannedMove& planned = std::get<PlannedMove>(entry);
    if (planned.extrusion == ExtrusionPolicy::absorbed) return;
    planned.free_e = !planned.dry && keeps_acceleration(planned.move, after_.limits());
    std::size_t const layer = layer_of(planned.move, after_counter_);
    double const factor = layer < factors_.size() ? factors_[layer] : 1;
    after_.push(planned_move(planned, factor, delivered_factor_), layer, plan_e(planned));
  }

  std::vector<double> const& factors_;
  double delivered_factor_;
  gcode::LayerCounter before_counter_, after_counter_;
  LayerClock before_, after_;
  RetractPolicy retract_policy_;
};

void read_into(LayerSurvey& survey, std::string const& path, AdaptOptions const& options) {
  Notices unused;
  gcode::ProgramReader(path, read_options(options), unused).read_all(survey);
}

}  // namespace

bool keeps_acceleration(gcode::Move const& move, motion::Limits const& limits) {
  return move.kind != gcode::MoveKind::travel ||
         limits.travel_acceleration_mm_s2 == limits.acceleration_mm_s2 ||
         limits.travel_rule == motion::TravelRule::rapid;
}

motion::PlanE plan_e(PlannedMove const& planned) {
  return planned.extrusion == ExtrusionPolicy::free_rate ? motion::PlanE::beside_stops
                                                         : motion::PlanE::included;
}

gcode::Move planned_move(PlannedMove const& planned, double speed_factor, double delivered_factor) {
  // A free stroke's time is that of the file as sliced.
  if (planned.extrusion != ExtrusionPolicy::free_rate &&
      planned.extrusion != ExtrusionPolicy::flow_right)
    return planned.move;
  gcode::Move move = judge::with_flow_set_right(planned.move, planned.kept_e_mm, delivered_factor);
  if (speed_factor < 1 && planned.extrusion == ExtrusionPolicy::free_rate && planned.free_e &&
      move.length_mm > 0)
    move.feed_mm_s = as_written_speed(planned.move, speed_factor * move.feed_mm_s);
  return move;
}

// Durations grow with 1/factor nearly in proportion; a few rounds make it close.
LayerPlan plan_layers(std::string const& path,
                      AdaptOptions const& options,
                      RetractPolicyOptions const& retract_policy,
                      std::vector<double> const& lost_s) {
  LayerPlan plan;
  std::vector<double>& factors = plan.factors;
  std::vector<double> base_s;
  for (int pass = 0; pass < most_passes; ++pass) {
    LayerSurvey survey(
        options.limits, retract_policy, factors, options.plant.feed.delivered_factor);
    read_into(survey, path, options);
    std::vector<LayerSum> const& before = survey.before();
    std::vector<LayerSum> const& after = survey.after();
    bool const first = pass == 0;
    factors.resize(before.size(), 1);
    base_s.resize(before.size(), 0);
    plan.planned_s.assign(before.size(), 0);
    bool close = true;
    for (std::size_t i = 0; i < before.size() && i < after.size(); ++i) {
      plan.planned_s[i] = after[i].all_s;
      if (first) base_s[i] = after[i].all_s;
      double const wanted_s =
          (1 - time_rounding) * before[i].all_s + (i < lost_s.size() ? lost_s[i] : 0);
      double const missing = wanted_s - after[i].all_s;
      if (std::abs(missing) < close_s || (first && missing < 0)) continue;
      double const gained = after[i].all_s - base_s[i];
      double stretch = 1 / factors[i] - 1;
      if (gained > 0 && stretch > 0) {
        stretch *= (gained + missing) / gained;
      } else if (after[i].cruise_s > 0) {
        stretch = missing / after[i].cruise_s;
      }
      factors[i] = std::clamp(1 / (1 + std::max(0.0, stretch)), slowest_factor, 1.0);
      close = false;
    }
    if (close) break;
  }
  return plan;
}

}  // namespace meltlag::adapt
