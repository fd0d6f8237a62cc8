// SPDX-License-Identifier: MIT
#include "meltlag/judge/survey.hpp"

#include <algorithm>

#include "meltlag/motion/walk.hpp"
#include "ring.hpp"

namespace meltlag::judge {
namespace {

// The greatest volume in any second. A window that holds most either begins where flow rises or
// ends where it falls: with flow taken as constant over each phase, at the end of a phase or a
// second after one.
class BestSecond {
 public:
  void add(double duration_s, double volume_mm3) {
    if (!(duration_s > 0)) return;
    phases_.push({duration_s, volume_mm3});
    length_s_ += duration_s;
    volume_mm3_ += volume_mm3;
    // The window of one second that ends here, with the oldest phase in part.
    while (length_s_ - phases_.front().duration_s >= window_s) drop_front();
    double const over_s = std::max(0.0, length_s_ - window_s);
    Phase const& first = phases_.front();
    best_ = std::max(best_, volume_mm3_ - first.volume_mm3 * over_s / first.duration_s);
    // The one that begins with the oldest phase, if it ends within this one.
    if (over_s <= duration_s)
      best_ = std::max(best_, volume_mm3_ - volume_mm3 * over_s / duration_s);
  }
  [[nodiscard]] double mean_mm3_s() const { return best_ / window_s; }

 private:
  static constexpr double window_s = 1;
  struct Phase {
    double duration_s = 0, volume_mm3 = 0;
  };
  void drop_front() {
    length_s_ -= phases_.front().duration_s;
    volume_mm3_ -= phases_.front().volume_mm3;
    phases_.pop();
    if (phases_.size() <= 1) {  // no error adds up
      length_s_ = phases_.empty() ? 0 : phases_.front().duration_s;
      volume_mm3_ = phases_.empty() ? 0 : phases_.front().volume_mm3;
    }
  }

  Ring<Phase> phases_;
  double length_s_ = 0, volume_mm3_ = 0, best_ = 0;
};

class Surveyor final : public motion::WalkSink {
 public:
  explicit Surveyor(SurveyOptions const& options)
      : factor_(options.plant.feed.delivered_factor), plant_(unlimited(options.plant)) {}
  void on_read(gcode::Move const&) override { ++demand_.moves; }
  void on_timed_move(motion::TimedMove const& timed) override;
  void on_halt(gcode::Halt const& halt, double) override {
    if (halt.kind == gcode::HaltKind::wait) plant_.run_out();
    if (halt.kind != gcode::HaltKind::dwell) return;
    plant_.advance({halt.dwell_s, 0, 0});
    second_.add(halt.dwell_s, 0);
  }
  Demand finish() {
    demand_.sustained_flow_mm3_s = second_.mean_mm3_s();
    return demand_;
  }

 private:
  static melt::PlantParameters unlimited(melt::PlantParameters plant) {
    plant.supply = {};
    return plant;
  }
  void advance(double duration_s, double from, double to, bool prints) {
    if (!(duration_s > 0)) return;
    plant_.advance({duration_s, from, to});
    second_.add(duration_s, prints ? factor_ * (from + to) / 2 * duration_s : 0);
    demand_.largest_run_on_mm3 = std::max(demand_.largest_run_on_mm3, plant_.run_on_mm3());
  }

  double factor_;
  melt::Plant plant_;
  BestSecond second_;
  Demand demand_;
};

void Surveyor::on_timed_move(motion::TimedMove const& timed) {
  auto const& t = timed.speed;
  if (t.length_mm <= 0) return;
  double const per_mm = timed.move.volume_mm3 / t.length_mm;
  bool const prints = timed.move.kind == gcode::MoveKind::print;
  if (prints) {
    demand_.peak_flow_mm3_s = std::max(demand_.peak_flow_mm3_s, factor_ * per_mm * t.peak_mm_s);
  }
  plant_.set_temperature(timed.move.nozzle_c);
  advance(t.rise_s(), per_mm * t.entry_mm_s, per_mm * t.peak_mm_s, prints);
  advance(t.cruise_s(), per_mm * t.peak_mm_s, per_mm * t.peak_mm_s, prints);
  advance(t.fall_s(), per_mm * t.peak_mm_s, per_mm * t.exit_mm_s, prints);
}

}  // namespace

double unload_mm3(Demand const& demand, melt::PlantParameters const& plant) {
  constexpr double run_ons = 3;
  double const at_most_flow = melt::run_on_at_flow(plant.law, plant.supply.max_flow_mm3_s);
  return run_ons * std::max(demand.largest_run_on_mm3, at_most_flow);
}

Demand survey(std::string const& path, SurveyOptions const& options) {
  Notices unused;
  Surveyor surveyor(options);
  melt::Feed const& feed = options.plant.feed;
  motion::walk(
      path,
      {feed.slicer_diameter_mm, options.limits, options.g91_covers_e, feed.delivered_factor},
      unused,
      surveyor);
  Demand demand = surveyor.finish();
  if (demand.sustained_flow_mm3_s <= 0)
    demand.sustained_flow_mm3_s = options.plant.law.at_flow_mm3_s;
  return demand;
}

}  // namespace meltlag::judge
