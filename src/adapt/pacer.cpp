// SPDX-License-Identifier: MIT
#include "pacer.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "meltlag/schedule/demand.hpp"
#include "window.hpp"

namespace meltlag::adapt {
namespace {

constexpr double first_trust = 1;  // of the logarithm of a stretch's duration
constexpr double least_trust = 0.04;
constexpr int most_rounds = 14;
constexpr double crawl_mm_s = 1;     // no slower than this
constexpr double alike = 0.03;       // caps that differ by less become one
constexpr double as_before = 0.995;  // of the top speed: not paced
constexpr double one_cut_s = 1e9;

// With thinning melt a round takes several times as long, and a window's figure is rougher anyway:
// by less care real files lose up to 0.03 point of misplaced plastic there and spare a third of the
// time; with Newtonian melt they would lose a twentieth of what is left.
constexpr PacerCare newtonian{5e-4, 2e-3, 2e-4}, thinning{1e-3, 5e-3, 1e-3};

// What all rounds to come may gain together after one that gained so much, the one before it more.
double gain_to_come(double gained, double before) {
  constexpr double fastest = 0.3, slowest = 0.95;
  double const decline = before > 0 ? std::clamp(gained / before, fastest, slowest) : slowest;
  return gained * decline / (1 - decline);
}

bool can_pace(PlannedMove const& planned) {
  return planned.extrusion == ExtrusionPolicy::free_rate && planned.free_e &&
         planned.move.length_mm > 0 && planned.speed.length_mm > 0;
}

double fastest_mm_s(schedule::Problem const& problem, schedule::Cut const& cut) {
  double fastest = 0;
  for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n)
    fastest = std::max({fastest, problem.nodes[n].start_mm_s, problem.nodes[n].end_mm_s});
  return fastest;
}

// Whether the beads alone ask for much of what the screw feeds for long.
bool is_near(melt::SupplyLimits const& supply, schedule::Problem const& problem) {
  constexpr double much = 0.7;
  std::vector<schedule::CutDemand> const demand = schedule::find_demand(problem);
  for (std::size_t i = 0; i < demand.size(); ++i) {
    bool const free = !problem.cuts[i].fixed;
    if (free && demand[i].mm3_s > much * supply.max_flow_mm3_s) return true;
  }
  return false;
}

// What the screw feeds at its best becomes a bound of each rate. What it has wound back or ready
// is left to the schedule: which of its rows hold takes more than one round to find out, and a
// first guess at them sends the search for speeds astray. Near the limit that would cost more than
// it saves.
void bound_by_supply(melt::SupplyLimits const& supply, schedule::Problem& problem) {
  constexpr double least_choice = 1e-6;
  double const volume_per_mm = problem.feed.delivered_mm3_per_mm();
  for (schedule::Cut& cut : problem.cuts) {
    double const fastest = fastest_mm_s(problem, cut);
    if (cut.fixed || fastest <= 0) continue;
    double const most = supply.fastest_mm3_s() / (volume_per_mm * fastest);
    cut.rate_high = std::max(std::min(cut.rate_high, most), cut.rate_low + least_choice);
    cut.rate = std::clamp(cut.rate, cut.rate_low, cut.rate_high);
  }
}

CutterOptions one_cut_each(CutterOptions options) {
  options.shortest_cut_s = one_cut_s;
  return options;
}

}  // namespace

Pacer::Pacer(PaceOptions pace,
             CutterOptions cuts,
             melt::PlantParameters plant,
             double most_run_on_mm3)
    : options_(pace),
      care_(plant.law.flow_index == 1 ? newtonian : thinning),
      grid_(one_cut_each(cuts), plant),
      supply_(plant.supply),
      most_run_on_mm3_(most_run_on_mm3) {}

double Pacer::slowest(PlannedMove const& planned) const {
  return std::min(planned.top_mm_s, std::max(options_.min_speed_mm_s, crawl_mm_s));
}

// Stretches are the cuts that the move would have without pace.
void Pacer::begin(std::span<PlannedMove* const> moves, Cutter const& cutter) {
  caps_.clear();
  base_s_.clear();
  for (PlannedMove* planned : moves) {
    if (planned->scheduled) {
      for (PacedStretch const& s : planned->paced) caps_.push_back(s.cap_mm_s);
      continue;
    }
    planned->paced.clear();
    if (!can_pace(*planned)) continue;
    cutter.cut_ends(*planned, ends_);
    std::vector<PacedStretch> paced;
    double from = 0;
    for (double end : ends_) {
      PacedStretch s{from, planned->speed.time_at(from), planned->top_mm_s, planned->speed};
      s.speed.length_mm = end - from;
      paced.push_back(s);
      from = end;
    }
    planned->paced = std::move(paced);
    caps_.insert(caps_.end(), ends_.size(), planned->top_mm_s);
  }
}

void Pacer::measure(std::span<PlannedMove* const> moves,
                    WindowState const& state,
                    std::vector<double>& caps,
                    Trial& trial) {
  trial.time_s = plan_paced(moves, state.pace, caps);
  grid_.build(moves, trial.problem, ranges_);
  state.start(trial.problem);
  if (!near_supply_) near_supply_ = is_near(supply_, trial.problem);
  trial.problem.supply = *near_supply_ ? supply_ : melt::SupplyLimits{};
  if (!*near_supply_ && supply_.limited()) bound_by_supply(supply_, trial.problem);
  trial.problem.most_run_on_mm3 = most_run_on_mm3_;
  schedule::OptimiseSettings settings;
  settings.gap = care_.measured_gap;
  settings.most_rounds = 1;
  settings.improvement = 5e-4;
  trial.misplaced_mm3 = optimiser_.optimise(trial.problem, settings, trial.rates).misplaced_mm3;
}

void Pacer::set_duration_bounds(std::span<PlannedMove* const> moves, double trust) {
  bounds_.assign(best_.problem.cuts.size(), {});
  std::size_t at = 0;
  for (std::size_t m = 0; m < moves.size(); ++m) {
    PlannedMove const& planned = *moves[m];
    for (std::size_t k = 0; k < planned.paced.size(); ++k, ++at) {
      motion::Trapezoid const& t = planned.paced[k].speed;
      double const duration = t.duration_s();
      if (duration <= 0 || planned.scheduled) continue;
      double const most = std::log(std::max(1.0, t.length_mm / duration / slowest(planned)));
      double const least = std::log(std::min(1.0, base_s_[at] / duration));
      bounds_[ranges_[m].first + k] = {true,
                                       std::max(-trust, least),
                                       std::min(trust, most),
                                       t.length_mm,
                                       duration,
                                       t.acceleration_mm_s2};
    }
  }
}

// The caps that the tangent problem asks for, that share of the way.
void Pacer::set_trial_caps(std::span<PlannedMove* const> moves,
                           std::vector<motion::Trapezoid> const& now,
                           double share) {
  constexpr double nothing = 2e-3;
  trial_caps_ = caps_;
  std::size_t at = 0;
  for (std::size_t m = 0; m < moves.size(); ++m) {
    PlannedMove const& planned = *moves[m];
    for (std::size_t k = 0; k < planned.paced.size(); ++k, ++at) {
      double const z = share * step_.stretch[ranges_[m].first + k];
      double const wanted = now[at].peak_mm_s * std::exp(-z);
      double& cap = trial_caps_[at];
      if (z > nothing) cap = wanted;
      if (z < -nothing) cap = std::max(cap, wanted);
      cap = std::clamp(cap, slowest(planned), planned.top_mm_s);
      if (planned.scheduled) cap = caps_[at];
    }
  }
}

// One round; false where no step within the trust is better.
bool Pacer::improve(std::span<PlannedMove* const> moves, WindowState const& state, double trust) {
  set_duration_bounds(moves, trust);
  tangent_.solve(
      best_.problem, bounds_, best_.rates, {options_.price_mm3_per_s, care_.tangent_gap}, step_);
  std::vector<motion::Trapezoid> now;
  for (PlannedMove const* planned : moves) {
    for (PacedStretch const& s : planned->paced) now.push_back(s.speed);
  }
  for (double const length : {1.0, 0.4}) {
    set_trial_caps(moves, now, length);
    trial_.rates = best_.rates;
    for (std::size_t i = 0; i < trial_.rates.size(); ++i)
      trial_.rates[i] += length * (step_.rates[i] - best_.rates[i]);
    measure(moves, state, trial_caps_, trial_);
    if (cost(trial_) < cost(best_)) return true;
  }
  return false;
}

// Caps that do nothing go, neighbours that are nearly alike become one stretch, and what is left is
// what a file can say.
void Pacer::finish(std::span<PlannedMove* const> moves, WindowState const& state) {
  plan_paced(moves, state.pace, caps_);
  std::vector<double> caps;
  for (PlannedMove* planned : moves) {
    if (planned->scheduled) {
      for (PacedStretch const& s : planned->paced) caps.push_back(s.cap_mm_s);
      continue;
    }
    std::vector<PacedStretch> merged;
    double slowest_mm_s = 0, fastest_mm_s = 0, length = 0, time = 0;
    std::vector<double> own;
    for (PacedStretch const& s : planned->paced) {
      bool const binds = s.cap_mm_s < as_before * planned->top_mm_s &&
                         s.speed.peak_mm_s >= s.cap_mm_s * (1 - 1e-6);
      double const cap = binds ? s.cap_mm_s : planned->top_mm_s;
      bool const joins = !merged.empty() &&
                         std::max(fastest_mm_s, cap) <= (1 + alike) * std::min(slowest_mm_s, cap);
      if (!joins) {
        merged.push_back(s);
        merged.back().speed.length_mm = 0;
        own.push_back(cap);
        slowest_mm_s = fastest_mm_s = cap;
        length = time = 0;
      }
      slowest_mm_s = std::min(slowest_mm_s, cap);
      fastest_mm_s = std::max(fastest_mm_s, cap);
      length += s.speed.length_mm;
      time += s.speed.length_mm / cap;
      merged.back().speed.length_mm = s.begin_mm + s.speed.length_mm - merged.back().begin_mm;
      own.back() = length / time;
    }
    for (double& cap : own) {
      cap = cap > as_before * planned->top_mm_s
                ? planned->top_mm_s
                : std::max(as_written_speed(planned->move, cap), slowest(*planned));
    }
    planned->paced = std::move(merged);
    caps.insert(caps.end(), own.begin(), own.end());
  }
  plan_paced(moves, state.pace, caps);
}

void Pacer::pace(std::span<PlannedMove* const> moves,
                 Cutter const& cutter,
                 WindowState const& state) {
  begin(moves, cutter);
  near_supply_.reset();
  best_.rates.clear();
  measure(moves, state, caps_, best_);
  for (PlannedMove const* planned : moves) {
    for (PacedStretch const& s : planned->paced) base_s_.push_back(s.speed.duration_s());
  }
  double const wanted =
      std::accumulate(best_.problem.wanted_mm3.begin(), best_.problem.wanted_mm3.end(), 0.0);
  double trust = first_trust, gained_before = 0;
  for (int round = 0; round < most_rounds && trust > least_trust; ++round) {
    double const before = cost(best_);
    if (improve(moves, state, trust)) {
      std::swap(best_, trial_);
      std::swap(caps_, trial_caps_);
      double const gained = before - cost(best_);
      if (gain_to_come(gained, std::exchange(gained_before, gained)) < care_.gain_to_come * wanted)
        break;
    } else {
      trust /= 3;
      plan_paced(moves, state.pace, caps_);  // the moves as they were
    }
  }
  finish(moves, state);
}

}  // namespace meltlag::adapt
