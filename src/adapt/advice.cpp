// SPDX-License-Identifier: MIT
#include "meltlag/adapt/advice.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "meltlag/adapt/pace.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::adapt {
namespace {

constexpr std::array limits_of_usual{0.8, 0.6, 0.45, 0.3, 0.2, 0.12};  // of the usual print speed
constexpr double usual_quantile = 0.75;                                // of the printed length
constexpr double most_added = 1;                                       // share of the time

// Runs of beads, and how fast they are printed.
class BeadSurvey final : public motion::WalkSink {
 public:
  explicit BeadSurvey(melt::LagLaw const& law) : law_(law) {}
  void on_halt(gcode::Halt const&, double) override { close(); }
  void on_timed_move(motion::TimedMove const& timed) override {
    bool const e_only = timed.move.kind == gcode::MoveKind::e_only;
    if (e_only && timed.move.e_mm < 0) ++retracts_;
    if (timed.move.kind != gcode::MoveKind::print) return close();
    run_s_ += timed.speed.duration_s();
    run_mm3_ += timed.move.volume_mm3;
    length_by_speed_[std::round(timed.move.feed_mm_s)] += timed.speed.length_mm;
  }
  void finish(Advice& advice) {
    close();
    advice.beads = beads_;
    advice.short_beads = short_;
    advice.retracts = retracts_;
    advice.mean_flow_mm3_s = all_s_ > 0 ? all_mm3_ / all_s_ : 0;
    if (advice.mean_flow_mm3_s > 0) advice.lag_s = melt::lag_s(law_, advice.mean_flow_mm3_s);
  }
  [[nodiscard]] double usual_speed() const {
    double whole = 0, sum = 0;
    for (auto const& [speed, length] : length_by_speed_) whole += length;
    for (auto const& [speed, length] : length_by_speed_) {
      sum += length;
      if (sum >= usual_quantile * whole) return speed;
    }
    return 0;
  }

 private:
  void close() {
    if (run_s_ > 0) {
      ++beads_;
      if (run_s_ < melt::lag_s(law_, run_mm3_ / run_s_)) ++short_;
      all_s_ += run_s_;
      all_mm3_ += run_mm3_;
    }
    run_s_ = run_mm3_ = 0;
  }

  melt::LagLaw law_;
  double run_s_ = 0, run_mm3_ = 0, all_s_ = 0, all_mm3_ = 0;
  std::int64_t beads_ = 0, short_ = 0, retracts_ = 0;
  std::map<double, double> length_by_speed_;
};

double survey_beads(std::string const& path, AdaptOptions const& options, Advice& advice) {
  Notices unused;
  BeadSurvey beads(options.plant.law);
  motion::walk(path,
               {options.plant.feed.slicer_diameter_mm, options.limits, options.g91_covers_e},
               unused,
               beads);
  beads.finish(advice);
  return beads.usual_speed();
}

}  // namespace

// Slowing all is about as good as slowing the right places; or the screw cannot feed what is asked
// for, and pace within that time does not change it.
bool Advice::better_sliced_again() const {
  constexpr double worth_it = 0.8, much = 0.1, half = 0.5;
  if (trials.empty()) return false;
  double const limited = trials[chosen].misplaced_share;
  if (limited > worth_it * misplaced_share) return false;
  return limited < paced_share ||
         (feed_limited_share > much && paced_share > half * misplaced_share);
}

Advice advise(std::string const& path, AdaptOptions const& options) {
  Advice advice;
  double const usual = survey_beads(path, options, advice);
  TradeCurve curve(path, options);
  AdaptInfo const base = curve.unpaced().info;
  advice.path_s = base.path_s;
  advice.as_sliced_s = curve.sliced().as_sliced_s;
  advice.misplaced_share = curve.unpaced().misplaced_share();
  if (base.limits.scheduled_s > 0)
    advice.feed_limited_share = base.limits.flow_forward_s / base.limits.scheduled_s;
  double best = 0;
  for (double const part : limits_of_usual) {
    PassOptions limited{options};
    limited.most_print_mm_s = std::max(1.0, std::round(part * usual));
    Notices unused;
    AdaptInfo const info = adapt_pass(
        path, limited, [](std::string_view) {}, unused);
    SpeedLimitTrial const trial{*limited.most_print_mm_s,
                                info.path_s - advice.as_sliced_s,
                                info.wanted_mm3 > 0 ? info.misplaced_mm3 / info.wanted_mm3 : 0};
    if (trial.added_s > most_added * advice.as_sliced_s) break;
    advice.trials.push_back(trial);
    // Gain for its time; the first few percent are cheap to anybody.
    constexpr double cheap = 0.05;
    double const gain = (advice.misplaced_share - trial.misplaced_share) /
                        (cheap * advice.as_sliced_s + std::max(0.0, trial.added_s));
    if (gain > best) {
      best = gain;
      advice.chosen = advice.trials.size() - 1;
    }
  }
  if (!advice.trials.empty() && advice.as_sliced_s > 0) {
    double const extra = advice.trials[advice.chosen].added_s / advice.as_sliced_s;
    TradePoint const paced = curve.within(extra, 0.8);
    advice.paced_added_s = curve.added_s(paced);
    advice.paced_share = paced.misplaced_share();
  }
  return advice;
}

}  // namespace meltlag::adapt
