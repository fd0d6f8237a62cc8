// SPDX-License-Identifier: MIT
// Successive linearisation. Each round replaces the melt by its tangent along the last trajectory,
// which makes the run-on at the end of every free cut an unknown and everything else affine in at
// most three neighbouring unknowns; the band solver finds the least misplaced plastic of the
// tangent problem, and a step towards it is taken that truly improves the simulated figure. Rates
// stay feasible on the way because the limits are linear in them.
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "meltlag/schedule/problem.hpp"
#include "meltlag/solve/band_program.hpp"
#include "response.hpp"
#include "tangent.hpp"

namespace meltlag::schedule {
namespace {

bool keeps_limits(Problem const& problem, std::vector<double> const& rates) {
  constexpr double slack = 1e-9;
  double before = problem.rate_before.value_or(0);
  double jump = problem.rate_before ? problem.jump_before : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    bool const inside =
        cut.fixed || (rates[i] >= cut.rate_low - slack && rates[i] <= cut.rate_high + slack);
    if (!inside || std::abs(rates[i] - before) > jump + slack) return false;
    before = rates[i];
    jump = cut.jump_to_next;
  }
  return !problem.rate_after ||
         std::abs(*problem.rate_after - before) <= problem.jump_after + slack;
}

bool runs_empty(Linearisation const& line) {
  constexpr double empty_mm3 = -1e-6;
  return *std::min_element(line.run_on_mm3.begin(), line.run_on_mm3.end()) < empty_mm3;
}

// Of rounds that gain less and less, by which factor: the larger of the last two, and after the
// second round not less than `least`.
class Decline {
 public:
  static constexpr double slowest = 0.95, spared = 0.1;
  explicit Decline(double least) : least_(least) {}
  // What all rounds to come may gain together after one that gained so much.
  double gain_to_come(double gained) {
    double const least = rounds_ > 1 ? 0 : least_;
    double const factor = before_ > 0 ? std::clamp(gained / before_, least, slowest) : slowest;
    double const larger = std::max(factor, factor_before_);
    before_ = std::max(gained, 0.0);
    factor_before_ = rounds_ > 1 ? factor : 0;
    ++rounds_;
    return gained * larger / (1 - larger);
  }

 private:
  double least_;
  int rounds_ = 0;
  double before_ = 0, factor_before_ = 0;
};

// By which factor rounds after a glance gain less and less, learnt from the windows before: some
// files are done after the first, others hardly begin there.
class Foresight {
 public:
  // What is foreseen is a mean, no bound: so many improvements may be left.
  static constexpr double enough = 2.5;
  void begin() {
    explores_ = ++windows_ % every == 0;
    rounds_ = 0;
  }
  // What all rounds to come may gain together after one that gained so much.
  double gain_to_come(double gained) {
    if (rounds_++ > 0 && before_ > 0)
      factor_ += weight * (std::clamp(gained / before_, 0.0, slowest) - factor_);
    before_ = gained;
    if (explores_ && rounds_ == 1) return std::numeric_limits<double>::infinity();
    return std::max(gained, 0.0) * factor_ / (1 - factor_);
  }

 private:
  static constexpr double weight = 0.25, slowest = 0.9;
  static constexpr int every = 16;  // windows, one is solved further to learn from
  int windows_ = 0, rounds_ = 0;
  bool explores_ = false;
  double factor_ = 0.3, before_ = 0;
};

bool is_newtonian(Problem const& problem) {
  return std::ranges::all_of(problem.laws, [](auto const& law) { return law.flow_index == 1.0; });
}

bool is_linear(Problem const& problem) {
  return is_newtonian(problem) && problem.feed.backlash_mm == 0 &&
         problem.feed.reverse_factor == 1 && !problem.supply.limited();
}

}  // namespace

namespace {

// Rounds with rows of one width.
template <std::size_t Width>
class Rounds {
 public:
  enum class Line : std::uint8_t { stale, of_these_rates };

  // Rounds from `rates` on; the best rates that keep the limits are left in `rates`.
  void improve(Problem const& problem,
               OptimiseSettings const& settings,
               std::vector<double>& rates,
               Line known,
               OptimiseInfo& info);
  double start(Problem const& problem, std::vector<double> const& rates) {
    linearise(problem, rates, line_);
    return misplaced(problem, line_, got_);
  }

 private:
  enum class Step : std::uint8_t { first, later };
  bool search(Problem const& problem, Step step, std::vector<double> const& rates, double now);
  solve::BandInfo solve_tangent(Problem const& problem,
                                Limits limits,
                                solve::BandSettings const& band);

  solve::BasicBandSolver<Width> solver_;
  Foresight foresight_;
  Tangent<Width> tangent_;
  // Where the tangent has no solution: a little, for limits that moved a little, then more.
  static constexpr double lower_floors[] = {1.03, 2};
  double floors_ = 1;  // of the last solution
  void begin(Problem const& problem, std::vector<double> const& rates, Line known);
  void take_trial(std::vector<double>& rates);

  Linearisation line_, trial_line_;
  std::vector<double> x_, target_, trial_, got_, best_;
  double now_ = 0, reached_ = 0, best_value_ = 0;
};

// Goes from `rates` towards the target as far as the simulated figure falls; all the way where the
// start need not keep the limits. False where no step is better.
template <std::size_t Width>
bool Rounds<Width>::search(Problem const& problem,
                           Step step,
                           std::vector<double> const& rates,
                           double now) {
  constexpr int most_halvings = 6;
  double length = 1;
  for (int halving = 0; halving < most_halvings; ++halving, length /= 2) {
    trial_ = target_;
    if (length < 1) {
      for (std::size_t i = 0; i < rates.size(); ++i)
        trial_[i] = rates[i] + length * (target_[i] - rates[i]);
    }
    linearise(problem, trial_, trial_line_);
    reached_ = misplaced(problem, trial_line_, got_);
    // Beyond what numbers can hold (a travel of days) the solver has no answer.
    if (std::isfinite(reached_) && (step == Step::first || reached_ < now)) return true;
  }
  return false;
}

template <std::size_t Width>
solve::BandInfo Rounds<Width>::solve_tangent(Problem const& problem,
                                             Limits limits,
                                             solve::BandSettings const& band) {
  solve::BandInfo solved;
  int steps = 0;
  auto const solve = [&](double floors, Limits among) {
    floors_ = floors;
    tangent_.build(problem, line_, x_, floors, among);
    if (x_.empty()) return;
    solved = solver_.solve(tangent_.program(), band, x_);
    steps += solved.steps;
  };
  solve(1, limits);
  if (x_.empty()) return {};
  if (limits == Limits::near_by &&
      (solved.status != solve::BandStatus::solved || tangent_.breaks_left_out(x_)))
    solve(1, Limits::all);
  for (double const lower : lower_floors) {
    if (solved.status == solve::BandStatus::solved) break;
    solve(lower, Limits::all);
  }
  solved.steps = steps;
  tangent_.read(x_, target_);
  return solved;
}

// How closely a round's tangent is solved. A glance tells which rows hold, and what is solved from
// there begins closer to its bounds.
enum class Care : std::uint8_t { usual, glance, after_glance };

solve::BandSettings band_settings(Problem const& problem, double gap, double scale, Care care) {
  // The slack at the start, of what one cell wants.
  double const slack_share = care == Care::after_glance ? 0.1 : 0.3;
  solve::BandSettings band;
  band.gap_tolerance = gap;
  band.scale = scale;
  band.slack_scale = slack_share * scale /
                     static_cast<double>(std::max<std::size_t>(1, problem.wanted_mm3.size()));
  if (care == Care::glance) {
    constexpr double glance_gap = 0.05;
    band.gap_tolerance = std::max(gap, glance_gap);
    band.start_residual_left = 0.1;
  } else if (care == Care::after_glance) {
    band.start_residual_left = 1e-3;  // as roughly as the gap
  }
  return band;
}

template <std::size_t Width>
void Rounds<Width>::begin(Problem const& problem, std::vector<double> const& rates, Line known) {
  if (known == Line::stale) linearise(problem, rates, line_);
  now_ = misplaced(problem, line_, got_);
  best_ = rates;
  best_value_ = keeps_limits(problem, rates) ? now_ : std::numeric_limits<double>::infinity();
}

template <std::size_t Width>
void Rounds<Width>::take_trial(std::vector<double>& rates) {
  rates = trial_;
  std::swap(line_, trial_line_);
  now_ = reached_;
  if (!(now_ < best_value_)) return;
  best_ = rates;
  best_value_ = now_;
}

template <std::size_t Width>
void Rounds<Width>::improve(Problem const& problem,
                            OptimiseSettings const& settings,
                            std::vector<double>& rates,
                            Line known,
                            OptimiseInfo& info) {
  double const wanted = std::accumulate(problem.wanted_mm3.begin(), problem.wanted_mm3.end(), 0.0);
  double const scale = std::max(wanted, 1e-6);
  begin(problem, rates, known);
  info.status = OptimiseStatus::round_limit;
  bool const linear = is_linear(problem);
  bool const glances = settings.sparing && is_newtonian(problem) && !linear;
  Decline decline(settings.sparing ? Decline::spared : Decline::slowest);
  if (glances) foresight_.begin();
  // Real files lose up to 0.03 point by it and mostly spare a tenth of the work, one a third.
  constexpr double gap_after_glance = 3e-4;
  double const early_gap = linear ? 0 : glances ? gap_after_glance : settings.early_gap;
  double gap = std::max(settings.gap, early_gap);
  for (int round = 0; round < settings.most_rounds; ++round) {
    Care const care = !glances ? Care::usual : round == 0 ? Care::glance : Care::after_glance;
    bool const near_by = settings.sparing && round > 0;
    solve::BandInfo const solved = solve_tangent(
        problem, near_by ? Limits::near_by : Limits::all, band_settings(problem, gap, scale, care));
    if (x_.empty()) break;
    info.steps += solved.steps;
    ++info.rounds;
    bool const free = round == 0 && floors_ < lower_floors[1];
    bool const better = search(problem, free ? Step::first : Step::later, rates, now_);
    bool const exact = linear && better && !runs_empty(line_) && !runs_empty(trial_line_);
    double const gained = now_ - reached_;
    if (better) take_trial(rates);
    if (care == Care::glance) continue;
    double const least = settings.improvement * scale;
    double const to_come = glances ? foresight_.gain_to_come(gained) / Foresight::enough
                                   : decline.gain_to_come(gained);
    bool const settled = !better || exact || (round > 0 && (gained < least || to_come < least));
    if (settled && (glances || gap <= settings.gap)) {
      info.status = OptimiseStatus::solved;
      break;
    }
    gap = settled ? settings.gap : std::max(settings.gap, gap / 4);
  }
  if (best_value_ < now_) rates = best_;
  info.misplaced_mm3 = std::min(now_, best_value_);
}

template <std::size_t Width>
OptimiseInfo optimise_with(Rounds<Width>& rounds,
                           Problem const& problem,
                           OptimiseSettings const& settings,
                           std::vector<double>& rates) {
  OptimiseInfo info;
  std::vector<double> const start = rates;
  info.start_mm3 = rounds.start(problem, rates);
  if (problem.cuts.empty()) return info;
  bool const good_start = keeps_limits(problem, start);
  // Strongly thinning melt: by way of milder laws, else the first tangent misleads.
  double least_index = 1;
  auto known = Rounds<Width>::Line::of_these_rates;
  for (auto const& law : problem.laws) least_index = std::min(least_index, law.flow_index);
  for (double const index : {0.75, 0.5}) {
    if (least_index > 0.45) break;
    Problem milder = problem;
    for (auto& law : milder.laws) law.flow_index = std::max(law.flow_index, index);
    OptimiseSettings brief = settings;
    brief.most_rounds = std::min(settings.most_rounds, 4);
    rounds.improve(milder, brief, rates, Rounds<Width>::Line::stale, info);
    known = Rounds<Width>::Line::stale;
  }
  rounds.improve(problem, settings, rates, known, info);
  if (good_start && info.start_mm3 <= info.misplaced_mm3) {
    rates = start;
    info.misplaced_mm3 = info.start_mm3;
    info.status = OptimiseStatus::not_better;
  }
  return info;
}

}  // namespace

struct Optimiser::State {
  Rounds<solve::row_width> narrow;      // run-on alone is unknown
  Rounds<solve::wider_row_width> wide;  // and what the screw has left
};

Optimiser::Optimiser() : state_(std::make_unique<State>()) {}
Optimiser::~Optimiser() = default;
Optimiser::Optimiser(Optimiser&&) noexcept = default;

OptimiseInfo Optimiser::optimise(Problem const& problem,
                                 OptimiseSettings const& settings,
                                 std::vector<double>& rates) {
  bool const usable = rates.size() == problem.cuts.size() &&
                      std::ranges::all_of(rates, [](double rate) { return std::isfinite(rate); });
  if (!usable) {
    rates.clear();
    for (Cut const& cut : problem.cuts) rates.push_back(cut.rate);
  }
  return problem.supply.limited() ? optimise_with(state_->wide, problem, settings, rates)
                                  : optimise_with(state_->narrow, problem, settings, rates);
}

}  // namespace meltlag::schedule
