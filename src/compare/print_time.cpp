// SPDX-License-Identifier: MIT
#include "meltlag/compare/print_time.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <memory>

namespace meltlag::compare {
namespace {

constexpr std::array<double, 8> multiples{0.25, 0.5, 0.8, 1, 1.1, 1.25, 2, 4};
constexpr std::size_t as_it_is = 3, tenth_more = 4;
constexpr std::array<TimeEntry, 5> entries{TimeEntry::acceleration,
                                           TimeEntry::axis_acceleration,
                                           TimeEntry::speed,
                                           TimeEntry::corner,
                                           TimeEntry::feed};

void scale(motion::PerAxis& values, double by) {
  for (double& value : values) value *= by;
}

motion::Limits scaled(motion::Limits limits, TimeEntry entry, double by) {
  switch (entry) {
    case TimeEntry::acceleration:
      limits.acceleration_mm_s2 *= by;
      limits.travel_acceleration_mm_s2 *= by;
      break;
    case TimeEntry::axis_acceleration:
      scale(limits.max_acceleration_mm_s2, by);
      break;
    case TimeEntry::speed:
      scale(limits.max_speed_mm_s, by);
      break;
    case TimeEntry::corner:
      if (limits.corner_rule == motion::CornerRule::rounding) {
        limits.corner_rounding_mm *= by;
      } else {
        scale(limits.corner_jump_mm_s, by);
      }
      break;
    case TimeEntry::feed:
      break;
  }
  return limits;
}

class Nowhere : public motion::TimedSink {
 public:
  void on_timed_move(motion::TimedMove const&) override {}
};

// One file, planned with one entry at all its multiples.
class ScaledPlans : public gcode::MeaningSink {
 public:
  ScaledPlans(motion::WalkOptions const& options, TimeEntry entry) : entry_(entry) {
    for (double const by : multiples)
      planners_.push_back(std::make_unique<motion::Planner>(
          motion::PlannerOptions{.limits = scaled(options.limits, entry, by)}, nowhere_));
  }
  void on_move(gcode::Move const& move) override {
    gcode::Move changed = move;
    for (std::size_t k = 0; k < planners_.size(); ++k) {
      if (entry_ == TimeEntry::feed) changed.feed_mm_s = move.feed_mm_s * multiples[k];
      planners_[k]->push(changed);
    }
  }
  void on_halt(gcode::Halt const& halt) override {
    waits += halt.kind == gcode::HaltKind::wait ? 1 : 0;
    for (auto const& planner : planners_) planner->push(halt);
  }
  void on_setting(gcode::Setting const& setting) override {
    for (auto const& planner : planners_) planner->push(setting);
  }
  [[nodiscard]] std::array<double, multiples.size()> times() {
    std::array<double, multiples.size()> out{};
    for (std::size_t k = 0; k < out.size(); ++k) {
      planners_[k]->finish();
      out[k] = planners_[k]->time_s();
    }
    return out;
  }

  std::int64_t waits = 0;

 private:
  TimeEntry entry_;
  Nowhere nowhere_;
  std::vector<std::unique_ptr<motion::Planner>> planners_;
};

// The multiple nearest to 1 at which the file takes so long, and how the time follows it there:
// d ln time / d ln multiple.
struct Explained {
  double times, follows;
};
std::optional<Explained> multiple_for(std::array<double, multiples.size()> const& times,
                                      double took_s) {
  std::optional<Explained> best;  // with the multiple's logarithm
  for (std::size_t k = 0; k + 1 < times.size(); ++k) {
    double const a = times[k], b = times[k + 1];
    if (a == b || (took_s - a) * (took_s - b) > 0) continue;
    double const from = std::log(multiples[k]), to = std::log(multiples[k + 1]);
    double const by = from + (to - from) * (took_s - a) / (b - a);
    if (!best || std::abs(by) < std::abs(best->times))
      best = Explained{by, (b - a) / (to - from) / took_s};
  }
  if (best) best->times = std::exp(best->times);
  return best;
}

// How often an entry is the wrong one, and by what factor then: e^spread.
struct Habit {
  double chance, spread;
};
Habit habit_of(TimeEntry entry) {
  switch (entry) {
    case TimeEntry::acceleration:
      return {0.4, 0.7};
    case TimeEntry::axis_acceleration:
      return {0.15, 0.7};
    case TimeEntry::speed:
      return {0.1, 0.5};
    case TimeEntry::corner:
      return {0.25, 0.7};
    case TimeEntry::feed:
      return {0.1, 0.25};
  }
  return {0, 1};
}

// Not normed yet.
double weight_of(TimeEntry entry, std::optional<Explained> const& explained) {
  if (!explained) return 0;
  Habit const habit = habit_of(entry);
  double const off = std::log(explained->times) / habit.spread;
  return habit.chance / habit.spread * std::exp(-off * off / 2) / std::abs(explained->follows);
}

void norm_likelihoods(TimeCheck& check) {
  double sum = 0;
  for (TimeInfluence const& influence : check.entries) sum += influence.likelihood;
  for (TimeInfluence& influence : check.entries)
    if (sum > 0) influence.likelihood /= sum;
}

}  // namespace

std::string name_of(TimeEntry entry, motion::CornerRule rule) {
  switch (entry) {
    case TimeEntry::acceleration:
      return "acceleration_mm_s2";
    case TimeEntry::axis_acceleration:
      return "max_acceleration_mm_s2";
    case TimeEntry::speed:
      return "max_speed_mm_s";
    case TimeEntry::corner:
      return rule == motion::CornerRule::rounding ? "corner_rounding_mm" : "corner_jump_mm_s";
    case TimeEntry::feed:
      return "the printer's speed knob";
  }
  return {};
}

TimeCheck check_time(std::string const& path,
                     double took_s,
                     motion::WalkOptions const& options,
                     Notices& notices) {
  TimeCheck out;
  out.took_s = took_s;
  for (TimeEntry const entry : entries) {
    Notices told_already;
    ScaledPlans plans(options, entry);
    gcode::ProgramReader(
        path, motion::read_options(options), entry == entries.front() ? notices : told_already)
        .read_all(plans);
    auto const times = plans.times();
    out.planned_s = times[as_it_is];
    out.unknown_waits = plans.waits;
    auto const explained = multiple_for(times, took_s);
    out.entries.push_back({.entry = entry,
                           .change_s = times[tenth_more] - times[as_it_is],
                           .shortest_s = std::ranges::min(times),
                           .longest_s = std::ranges::max(times),
                           .times = explained ? std::optional(explained->times) : std::nullopt,
                           .likelihood = weight_of(entry, explained)});
  }
  norm_likelihoods(out);
  std::ranges::stable_sort(out.entries, std::greater<>{}, &TimeInfluence::likelihood);
  return out;
}

}  // namespace meltlag::compare
