// SPDX-License-Identifier: MIT
#include "window.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "around_stops.hpp"
#include "meltlag/schedule/guess.hpp"
#include "pace_plan.hpp"
#include "speed_profile.hpp"
#include "stop_corners.hpp"
#include "stroke.hpp"

namespace meltlag::adapt {
namespace {

// Neighbouring cuts of one move whose rates differ by less than this share of the move's own E per
// mm are emitted as one.
constexpr double merge_share = 0.01;
// Price of a change of the screw's rate: fewer moves for next to no misplaced plastic.
constexpr double calm_price = 0.003;
// Price of what lies in one lump beyond the bead's own height.
constexpr double lump_price = 0.5;
// Of what is turned in vain in one cut; and how often a schedule that does is changed.
constexpr double negligible_mm3 = 0.001;
constexpr int feedings = 12;

// A window with strokes is solved several times: first only the strokes are taken from it, then
// all; and once more around decided strokes? One without strokes is solved once, alone.
struct Settings {
  Stage strokes, all, alone;
  bool once_more;

  // Strokes are decided on what lies around them, and the rest may begin with a guess.
  [[nodiscard]] bool brief() const { return all.optimise.sparing; }
};
constexpr schedule::OptimiseSettings closely, roughly{.gap = 1e-4, .improvement = 5e-4},
    swiftly{.gap = 1e-4, .improvement = 2e-4};
// Longer groups of cuts are solved sooner. Such as these lose up to 0.06 point of misplaced plastic
// on the real files tried; 0.45 of the distance for all, not for strokes alone, 0.08, and longer
// groups beside changes half a point.
constexpr schedule::Coarseness for_strokes{2, 0.05}, for_all{0.3, 0};
constexpr schedule::OptimiseSettings strokes_of_long_file{
    .gap = 2e-3, .early_gap = 2e-3, .improvement = 5e-4};
constexpr Settings thorough{{roughly}, {closely}, {closely}, true};
// Of long files, where a tenth of the time is worth a hundredth of a point.
constexpr schedule::OptimiseSettings sparing(schedule::OptimiseSettings settings) {
  settings.sparing = true;
  return settings;
}
constexpr Settings swift{{sparing(strokes_of_long_file), for_strokes},
                         {sparing(swiftly), for_all},
                         {sparing(closely), for_all},
                         false};
constexpr Settings rough{{roughly}, {roughly}, {roughly}, false};
constexpr Settings rough_of_long_file{{sparing(strokes_of_long_file), for_strokes},
                                      {sparing(roughly), for_all},
                                      {sparing(roughly), for_all},
                                      false};

constexpr Settings const& settings_of(Effort effort) {
  switch (effort) {
    case Effort::thorough:
      return thorough;
    case Effort::swift:
      return swift;
    case Effort::rough:
      return rough;
    case Effort::rough_of_long_file:
      return rough_of_long_file;
  }
  return thorough;
}

// What a schedule for an uncertain lag may lose as believed; a tenth is promised.
constexpr double robust_centre_loss = 0.065;

}  // namespace

WindowScheduler::WindowScheduler(CutterOptions options,
                                 melt::PlantParameters plant,
                                 double most_run_on_mm3,
                                 Effort effort,
                                 PaceOptions pace,
                                 schedule::LagSpread spread)
    : cutter_(options, plant),
      effort_(effort),
      pace_(pace),
      pacer_(pace, options, plant, most_run_on_mm3),
      spread_(spread),
      plants_(schedule::plants_of(spread)),
      law_(plant.law),
      delivered_factor_(plant.feed.delivered_factor),
      supply_(plant.supply),
      most_run_on_mm3_(most_run_on_mm3) {}

namespace {

// The same rates on other cuts of the same records.
std::vector<double> spread_over(std::span<CutRange const> before,
                                std::vector<double> const& rates,
                                std::span<CutRange const> now) {
  std::vector<double> out;
  for (std::size_t m = 0; m < now.size(); ++m) {
    for (std::uint32_t k = 0; k < now[m].count; ++k) {
      std::uint32_t const at = before[m].count * (2 * k + 1) / (2 * now[m].count);
      out.push_back(rates[before[m].first + std::min(at, before[m].count - 1)]);
    }
  }
  return out;
}

}  // namespace

void WindowState::start(schedule::Problem& problem) const {
  problem.start_run_on_mm3 = run_on_mm3;
  problem.start_backlash_mm3 = backlash_mm3;
  problem.start_wound_back_mm3 = wound_back_mm3;
  problem.start_store_mm3 = store_mm3;
  problem.rate_before = rate;
  problem.jump_before = jump;
}

// Before repair_jumps narrows the bounds.
void WindowScheduler::count_limits(std::size_t cuts) {
  constexpr double close = 0.98;
  for (std::size_t i = 0; i < cuts; ++i) {
    schedule::Cut const& cut = problem_.cuts[i];
    if (cut.fixed) continue;
    double duration = 0;
    for (std::uint32_t n = 0; n < cut.nodes; ++n)
      duration += problem_.nodes[cut.first_node + n].duration_s;
    result_.limits.scheduled_s += duration;
    double const before = i == 0 ? rates_[0] : rates_[i - 1];
    double const jump =
        i == 0 ? std::numeric_limits<double>::infinity() : problem_.cuts[i - 1].jump_to_next;
    if (rates_[i] > 0 && rates_[i] >= close * cut.rate_high) {
      result_.limits.flow_forward_s += duration;
    } else if (rates_[i] < 0 && rates_[i] <= close * cut.rate_low) {
      result_.limits.reverse_s += duration;
    } else if (std::abs(rates_[i] - before) >= close * jump) {
      result_.limits.jump_s += duration;
    }
  }
}

// The solver meets the limits to its tolerance; this makes them hold exactly. Going backward each
// cut learns what the ones after it can follow, going forward the rates are brought there.
void WindowScheduler::repair_jumps(WindowState const& state) {
  double low_after = -std::numeric_limits<double>::infinity();
  double high_after = std::numeric_limits<double>::infinity();
  for (std::size_t i = rates_.size(); i-- > 0;) {
    schedule::Cut& cut = problem_.cuts[i];
    if (cut.fixed) {
      low_after = high_after = rates_[i];
      continue;
    }
    double const low = std::max(cut.rate_low, low_after - cut.jump_to_next);
    double const high = std::min(cut.rate_high, high_after + cut.jump_to_next);
    if (low <= high) {
      cut.rate_low = low;
      cut.rate_high = high;
    }
    low_after = cut.rate_low;
    high_after = cut.rate_high;
  }
  double before = state.rate.value_or(0);
  double jump = state.rate ? state.jump : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < rates_.size(); ++i) {
    schedule::Cut const& cut = problem_.cuts[i];
    if (!cut.fixed) {
      rates_[i] = std::clamp(rates_[i], cut.rate_low, cut.rate_high);
      rates_[i] = std::clamp(rates_[i], before - jump, before + jump);
    }
    before = rates_[i];
    jump = cut.jump_to_next;
  }
}

void WindowScheduler::merge(std::span<PlannedMove* const> records, std::size_t kept) {
  for (std::size_t m = 0; m < kept; ++m) {
    PlannedMove& record = *records[m];
    record.scheduled = true;
    record.pieces.clear();
    if (record.extrusion == ExtrusionPolicy::flow_right && record.move.e_mm != 0) {
      if (record.move.length_mm > 0)
        record.pieces.push_back(
            {record.move.length_mm, record.move.e_mm / record.move.length_mm / delivered_factor_});
      continue;
    }
    if (record.extrusion != ExtrusionPolicy::free_rate || record.move.length_mm <= 0 ||
        !record.free_e)
      continue;
    cutter_.cut_ends(record, ends_);
    merge_cuts(record, ranges_[m].first);
  }
}

// Rates that differ by less are alike.
double WindowScheduler::alike(PlannedMove const& record, std::size_t first) const {
  // A line may ask for far more than the screw can do: then that is the measure.
  double usual = std::abs(record.move.e_mm) / record.move.length_mm;
  for (std::size_t k = 0; k < ends_.size(); ++k)
    usual = std::min(usual, problem_.cuts[first + k].rate_high);
  return merge_share * std::max(usual, 1e-3);
}

// Neighbouring cuts with nearly the same rate become one piece.
void WindowScheduler::merge_cuts(PlannedMove& record, std::size_t first) {
  double const tolerance = alike(record, first);
  double from = 0, low = 0, high = 0, turned = 0;
  std::size_t stretch = 0, open = first;  // the first cut of the piece being built
  auto const close = [&](double end_mm, std::size_t behind) {
    bool const as_asked = record.paced.empty() || record.paced[stretch].cap_mm_s >= record.top_mm_s;
    record.pieces.push_back({end_mm,
                             turned / (end_mm - from),
                             as_asked ? record.asked_mm_s : record.paced[stretch].cap_mm_s});
    std::fill(rates_.begin() + static_cast<std::ptrdiff_t>(open),
              rates_.begin() + static_cast<std::ptrdiff_t>(behind),
              record.pieces.back().rate);
  };
  for (std::size_t k = 0; k < ends_.size(); ++k) {
    std::size_t const cut = first + k;
    double const rate = rates_[cut];
    double const begin_mm = k == 0 ? 0 : ends_[k - 1];
    bool const next_stretch = stretch + 1 < record.paced.size() && k > 0 &&
                              begin_mm >= record.paced[stretch + 1].begin_mm - 1e-9;
    if (cut != open && (next_stretch || std::max(high, rate) - std::min(low, rate) > tolerance)) {
      close(begin_mm, cut);
      from = begin_mm;
      open = cut;
      turned = 0;
      if (next_stretch) ++stretch;
    }
    if (cut == open) low = high = rate;
    low = std::min(low, rate);
    high = std::max(high, rate);
    turned += rate * (ends_[k] - begin_mm);
  }
  close(record.move.length_mm, first + ends_.size());
}

void WindowScheduler::build(std::span<PlannedMove* const> records, WindowState const& state) {
  cutter_.build(records, problem_, ranges_);
  state.start(problem_);
  problem_.supply = supply_;
  problem_.calm = calm_price;
  problem_.lump_price = lump_price;
  problem_.most_run_on_mm3 = most_run_on_mm3_;
}

// What stands as long as nothing is chosen.
void WindowScheduler::take_given_rates() {
  rates_.clear();
  for (schedule::Cut const& cut : problem_.cuts) rates_.push_back(cut.rate);
}

// Returns what it comes to.
double WindowScheduler::optimise(Stage const& stage, schedule::Optimiser& optimiser) {
  schedule::OptimiseSettings settings = stage.optimise;
  // In a small window rounds cost next to nothing.
  constexpr std::size_t small = 500;
  constexpr double fine = 1e-5;
  if (problem_.cuts.size() < small && !settings.sparing) settings.improvement = fine;
  schedule::Problem const& coarse = grid_.coarsen(problem_, stage.grid);
  grid_.gather(rates_, shared_rates_);
  auto const info = optimiser.optimise(coarse, settings, shared_rates_);
  grid_.spread(shared_rates_, rates_);
  result_.rounds += info.rounds;
  result_.steps += info.steps;
  return info.misplaced_mm3;
}

// From all the starts that are to be tried.
void WindowScheduler::optimise_all(Stage const& stage) {
  std::vector<double> const given = std::exchange(given_rates_, {});
  double const by_guess = optimise(stage, optimiser_);
  if (given.empty()) return;
  std::vector<double> const from_guess = std::exchange(rates_, given);
  double const by_given = optimise(stage, optimiser_);
  double const wanted =
      std::accumulate(problem_.wanted_mm3.begin(), problem_.wanted_mm3.end(), 1e-6);
  starts_.learn((by_given - by_guess) / wanted);
  if (by_guess < by_given) rates_ = from_guess;
}

// With their flow set right, as fast as E can go.
void WindowScheduler::begin_strokes(std::span<PlannedMove* const> records) const {
  for (PlannedMove* const record : records) {
    if (record->scheduled) continue;
    record->at_start = record->at_end = {};
    record->stroke_decided = false;
    if (record->extrusion != ExtrusionPolicy::free_stroke) continue;
    set_stroke(*record, record->move.e_mm / delivered_factor_);
  }
  keep_stop_corners(records);
}

// Where decided strokes fill their time, their top speed follows the corners as timed by now. False
// where none does.
bool WindowScheduler::refill_strokes(std::span<PlannedMove* const> records) {
  bool any = false;
  for (PlannedMove* const record : records) {
    if (!record->stroke_decided || !record->stroke_fills_time) continue;
    set_stroke(*record, record->stroke_e_mm);
    any = true;
  }
  return any;
}

// False where there is none.
bool WindowScheduler::read_strokes(std::span<PlannedMove* const> records, Strokes strokes) {
  bool any = false;
  for (std::size_t m = 0; m < records.size(); ++m) {
    PlannedMove& record = *records[m];
    if (record.extrusion != ExtrusionPolicy::free_stroke || record.scheduled) continue;
    double& rate = rates_[ranges_[m].first];
    set_stroke(record, rate * record.speed.length_mm);
    record.stroke_decided = strokes == Strokes::decided;
    rate = record.stroke_e_mm < 0 ? -1 : 1;
    any = true;
  }
  return any;
}

void WindowScheduler::plan(std::span<PlannedMove* const> records, WindowState const& state) {
  std::vector<double> caps;
  for (PlannedMove const* record : records)
    for (PacedStretch const& s : record->paced) caps.push_back(s.cap_mm_s);
  plan_paced(records, state.pace, caps);
}

// The same rates with the head timed anew.
void WindowScheduler::plan_again(std::span<PlannedMove* const> records, WindowState const& state) {
  plan(records, state);
  std::vector<CutRange> const before = ranges_;
  build(records, state);
  rates_ = spread_over(before, rates_, ranges_);
}

void WindowScheduler::choose_start() {
  take_given_rates();
  given_rates_.clear();
  if (!settings_of(effort_).brief() || law_.flow_index != 1) return;
  StartChoice::Start const start = starts_.next();
  if (start == StartChoice::Start::given) return;
  std::vector<double> const given = rates_;
  schedule::guess_rates(problem_, rates_);
  if (start == StartChoice::Start::both && rates_ != given) given_rates_ = given;
}

// The rates of what lies around the stops, each part solved by itself: farther away a stroke is not
// felt. Where strokes and corners stay as they were, false.
bool WindowScheduler::settle_around_stops(std::span<PlannedMove* const> records,
                                          WindowState const& state) {
  constexpr double reach_in_lags = 3;
  around_stops_.clear();
  bool any = false;
  for (RecordRange const& part :
       around_stops(records, reach_in_lags * melt::lag_s(law_, law_.at_flow_mm3_s))) {
    std::span<PlannedMove* const> const here = records.subspan(part.begin, part.end - part.begin);
    build(here, part.begin == 0 ? state : guess_behind(records.first(part.begin)));
    take_given_rates();
    optimise(settings_of(effort_).strokes, strokes_optimiser_);
    any |= read_strokes(here, Strokes::free);
    any |= set_stop_corners(here, ranges_, rates_);
    around_stops_.push_back({part.begin, ranges_, rates_});
  }
  return any;
}

// Where the rounds over all begin.
void WindowScheduler::begin_with_parts() {
  choose_start();
  for (Part const& part : around_stops_) {
    std::span<CutRange const> const here =
        std::span(ranges_).subspan(part.first_record, part.ranges.size());
    std::vector<double> const decided = spread_over(part.ranges, part.rates, here);
    for (std::vector<double>* const rates : {&rates_, &given_rates_})
      if (!rates->empty()) std::ranges::copy(decided, rates->begin() + here.front().first);
  }
}

// Decides the free strokes and the corners beside stops for a first time and times all anew. Where
// they stay as they were, false.
bool WindowScheduler::try_strokes(std::span<PlannedMove* const> records, WindowState const& state) {
  if (settings_of(effort_).brief()) {
    bool const any = settle_around_stops(records, state);
    if (any) plan(records, state);
    build(records, state);
    begin_with_parts();
    return any;
  }
  build(records, state);
  choose_start();
  optimise(settings_of(effort_).strokes, strokes_optimiser_);
  bool any = read_strokes(records, Strokes::free);
  any |= set_stop_corners(records, ranges_, rates_);
  if (any) plan_again(records, state);
  return any;
}

// How far the free strokes go tells how long they take, and the rates next to them how fast the
// printer takes the corners there, those beside strokes that stay included: all is decided again
// with that timing, then the strokes are fixed; closely, the rest is decided once more around them.
void WindowScheduler::settle_strokes(std::span<PlannedMove* const> records,
                                     WindowState const& state) {
  bool const stops =
      std::ranges::any_of(records, [](PlannedMove const* record) { return is_stop(*record); });
  Settings const& settings = settings_of(effort_);
  Stage const& all = settings.all;
  if (!stops) {
    build(records, state);
    choose_start();
    return optimise_all(settings.alone);
  }
  if (!try_strokes(records, state)) return optimise_all({closely, all.grid});
  optimise_all(all);
  if (!read_strokes(records, Strokes::decided)) return;
  plan_again(records, state);
  // Their top speed bounds the corners, and the corners their top speed.
  constexpr int agreements = 2;
  for (int i = 0; i < agreements && refill_strokes(records); ++i) {
    set_stop_corners(records, ranges_, rates_);
    plan_again(records, state);
  }
  if (!settings.once_more) return;
  // Next to nothing is left to be changed.
  schedule::OptimiseSettings once;
  once.early_gap = once.gap;
  once.most_rounds = 1;
  optimise({once, all.grid}, optimiser_);
}

// Where the schedule asks for more than the screw has left by then, it asks for what is fed: what
// is turned in vain changes nothing else. Only where the optimum was not found there is any. False
// where nothing changes.
bool WindowScheduler::ask_for_what_is_fed(std::span<PlannedMove* const> records) {
  schedule::simulate(problem_, rates_, outcome_);
  double const volume_per_mm = problem_.feed.delivered_mm3_per_mm();
  bool any = false;
  for (std::size_t m = 0; m < records.size(); ++m) {
    PlannedMove& record = *records[m];
    for (std::uint32_t k = 0; k < ranges_[m].count; ++k) {
      std::size_t const i = ranges_[m].first + k;
      double const starved_mm3 =
          outcome_.starved_mm3[i] - (i > 0 ? outcome_.starved_mm3[i - 1] : 0);
      if (starved_mm3 < negligible_mm3 || rates_[i] <= 0) continue;
      if (record.scheduled) continue;
      if (record.stroke_decided) {
        set_stroke(record, std::max(0.0, record.stroke_e_mm - starved_mm3 / volume_per_mm));
        any = true;
      } else if (!problem_.cuts[i].fixed) {
        // A bound, so that the cuts before it come down to it in time.
        double const way_mm = path_mm(problem_, problem_.cuts[i]);
        most_fed_[i] = rates_[i] - std::min(rates_[i], starved_mm3 / volume_per_mm / way_mm);
        any = true;
      }
    }
  }
  return any;
}

void WindowScheduler::stay_fed(std::span<PlannedMove* const> records, WindowState const& state) {
  most_fed_.assign(problem_.cuts.size(), std::numeric_limits<double>::infinity());
  for (int i = 0; i < feedings && ask_for_what_is_fed(records); ++i) {
    build(records, state);
    for (std::size_t k = 0; k < most_fed_.size(); ++k) {
      schedule::Cut& cut = problem_.cuts[k];
      cut.rate_high = std::max(std::min(cut.rate_high, most_fed_[k]), cut.rate_low);
    }
    repair_jumps(state);
  }
}

// Leaves in outcome_ what becomes of it.
void WindowScheduler::take_as_moves(std::span<PlannedMove* const> records,
                                    std::size_t kept,
                                    WindowState const& state) {
  std::vector<double> const decided = rates_;
  merge(records, kept);
  schedule::simulate(problem_, rates_, outcome_);
  // The rest, cut by cut, is for the few windows that ask for more than is fed.
  if (!supply_.limited() || problem_.cuts.empty() || outcome_.starved_mm3.back() < negligible_mm3)
    return;
  for (PlannedMove* const record : records.first(kept)) record->scheduled = false;
  rates_ = decided;
  stay_fed(records, state);
  merge(records, kept);
  schedule::simulate(problem_, rates_, outcome_);
}

WindowResult WindowScheduler::schedule(std::span<PlannedMove* const> records,
                                       std::size_t kept,
                                       WindowState& state) {
  result_ = {};
  if (pace_.price_mm3_per_s > 0) pacer_.pace(records, cutter_, state);
  begin_strokes(records);
  settle_strokes(records, state);
  if (spread_.known()) {
    robust_.improve(problem_, plants_, state.run_ons_mm3, robust_centre_loss, rates_);
  }
  count_limits(kept < ranges_.size() ? ranges_[kept].first : problem_.cuts.size());
  repair_jumps(state);
  take_as_moves(records, kept, state);
  CutRange const last = ranges_[kept - 1];
  hand_over(last.first + last.count, state);
  result_.sums = add_up(records.first(kept), last.first + last.count);
  for (std::size_t m = kept; m < records.size(); ++m) {
    records[m]->stroke_e_mm = 0;
    records[m]->stroke_decided = false;
  }
  if (pace_.price_mm3_per_s > 0) {
    if (auto const entry = pace_entry_behind(records, kept)) state.pace = entry;
    for (std::size_t m = kept; m < records.size(); ++m) records[m]->paced.clear();
  }
  return result_;
}

// After the first `cuts` of the problem as simulated.
void WindowScheduler::hand_over(std::size_t cuts, WindowState& state) const {
  if (spread_.known())
    state.run_ons_mm3 = schedule::run_ons_at(problem_, plants_, state.run_ons_mm3, rates_, cuts);
  state.run_on_mm3 = outcome_.run_on_mm3[cuts];
  if (cuts == 0) return;
  state.backlash_mm3 = outcome_.backlash_mm3[cuts - 1];
  state.wound_back_mm3 = outcome_.wound_back_mm3[cuts - 1];
  state.store_mm3 = outcome_.store_mm3[cuts - 1];
  state.rate = rates_[cuts - 1];
  state.jump = problem_.cuts[cuts - 1].jump_to_next;
}

WindowSums WindowScheduler::replay(std::span<PlannedMove* const> records, WindowState& state) {
  build(records, state);
  take_given_rates();
  schedule::simulate(problem_, rates_, outcome_);
  hand_over(problem_.cuts.size(), state);
  return add_up(records, problem_.cuts.size());
}

WindowState WindowScheduler::guess_behind(std::span<PlannedMove* const> records) const {
  WindowState state;
  for (PlannedMove const* record : records) {
    double const duration = record->speed.duration_s();
    if (duration <= 0) continue;
    double const flow = std::max(0.0, record->move.volume_mm3) / duration;
    state.run_on_mm3 = melt::run_on_at_flow(law_, flow);
  }
  state.run_ons_mm3.fill(state.run_on_mm3);
  return state;
}

WindowSums WindowScheduler::add_up(std::span<PlannedMove* const> records, std::size_t cuts) const {
  WindowSums sums;
  for (PlannedMove const* record : records) sums.time_s += time_of(*record);
  std::uint32_t cells = 0;
  for (std::size_t i = 0; i < cuts; ++i) {
    schedule::Cut const& cut = problem_.cuts[i];
    for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n) {
      if (problem_.nodes[n].cell != schedule::no_cell)
        cells = std::max(cells, problem_.nodes[n].cell + 1);
    }
  }
  for (std::uint32_t c = 0; c < cells; ++c) {
    sums.wanted_mm3 += problem_.wanted_mm3[c];
    sums.misplaced_mm3 += std::abs(outcome_.got_mm3[c] - problem_.wanted_mm3[c]);
  }
  return sums;
}

}  // namespace meltlag::adapt
