// SPDX-License-Identifier: MIT
#include "meltlag/judge/slicer_settings.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>
#include <variant>
#include <vector>

#include "judged_plan.hpp"
#include "meltlag/judge/survey.hpp"

namespace meltlag::judge {
namespace {

constexpr double grid_mm = 0.01;         // what a slicer's setting can say
constexpr double most_extra_mm3 = 0.99;  // more is a purge

// What the settings make of a move.
enum class Role : std::uint8_t { none, retract, recovery };

struct Event {
  std::variant<gcode::Move, gcode::Halt, gcode::Setting> what;
  PathPiece piece = {};
  Role role = Role::none;
  double others_mm = 0;  // that the stop's other moves do of the same, with the flow set right
};

// The part of a file that is looked at, with the roles of its moves.
class Excerpt : gcode::MeaningSink {
 public:
  Excerpt(std::string const& path, JudgeOptions const& options, std::size_t most_moves)
      : most_moves_(most_moves),
        factor_(options.plant.feed.delivered_factor),
        pieces_(*options.unload_mm3) {
    std::size_t const moves = count(path, options);
    whole_ = moves <= most_moves_;
    if (!whole_) first_ = (moves - most_moves_) / 2;
    read(path, options);
    find_stops();
  }
  [[nodiscard]] std::vector<Event> const& events() const { return events_; }
  void describe(SlicerSettings& out) const {
    out.whole = whole_;
    out.first_line = first_line_;
    out.last_line = last_line_;
    out.stops = static_cast<std::int64_t>(retracts_mm_.size());
    if (retracts_mm_.empty()) return;
    out.now = {median(retracts_mm_), median(extras_mm_)};
  }

 private:
  static double median(std::vector<double> values) {
    auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
  }
  std::size_t count(std::string const& path, JudgeOptions const& options) {
    counting_ = true;
    read(path, options);
    counting_ = false;
    return std::exchange(seen_, 0);
  }
  void read(std::string const& path, JudgeOptions const& options) {
    Notices unused;
    gcode::ProgramReader(path, read_options(options), unused).read_all(*this);
  }

  void on_move(gcode::Move const& move) override {
    std::size_t const number = seen_++;
    if (counting_) return;
    PathPiece const piece = pieces_.next(move);
    // It begins at a stop, so that nothing runs on from before.
    begun_ = begun_ || (number >= first_ && move.kind != gcode::MoveKind::print);
    if (!begun_ || taken_ == most_moves_) return;
    if (taken_++ == 0) first_line_ = move.line;
    last_line_ = move.line;
    events_.push_back({move, piece});
  }
  void on_halt(gcode::Halt const& halt) override {
    if (counting_) return;
    pieces_.halt();
    if (begun_ && taken_ < most_moves_) events_.push_back({halt});
  }
  void on_setting(gcode::Setting const& setting) override {
    if (!counting_ && taken_ < most_moves_) events_.push_back({setting});
  }

  void find_stops() {
    std::size_t begin = 0;
    for (std::size_t i = 0; i < events_.size(); ++i) {
      auto const* const move = std::get_if<gcode::Move>(&events_[i].what);
      if (move == nullptr || move->kind != gcode::MoveKind::print) continue;
      find_roles(begin, i);
      begin = i + 1;
    }
    find_roles(begin, events_.size());
  }

  // Of the events between two beads.
  void find_roles(std::size_t begin, std::size_t end) {
    Event *retract = nullptr, *recovery = nullptr;
    double back_mm = 0, forward_mm = 0;
    for (std::size_t i = begin; i < end; ++i) {
      auto const* const move = std::get_if<gcode::Move>(&events_[i].what);
      if (move == nullptr || move->e_mm == 0) continue;
      if (events_[i].piece.kept_e_mm != 0) return;
      (move->e_mm < 0 ? back_mm : forward_mm) += std::abs(move->e_mm);
      if (move->kind != gcode::MoveKind::e_only) continue;
      Event*& first = move->e_mm < 0 ? retract : recovery;
      if (first == nullptr) first = &events_[i];
    }
    if (retract == nullptr) return;  // what was drawn back before the part looked at
    retract->role = Role::retract;
    retract->others_mm = (back_mm - turned_mm(*retract)) / factor_;
    if (recovery == nullptr || retract > recovery) return;
    recovery->role = Role::recovery;
    recovery->others_mm = (forward_mm - turned_mm(*recovery)) / factor_;
    retracts_mm_.push_back(back_mm);
    extras_mm_.push_back(forward_mm - back_mm);
  }
  static double turned_mm(Event const& event) {
    return std::abs(std::get<gcode::Move>(event.what).e_mm);
  }

  std::size_t most_moves_;
  double factor_;
  PathPieceMaker pieces_;
  bool counting_ = false, begun_ = false, whole_ = true;
  std::size_t seen_ = 0, first_ = 0, taken_ = 0;
  std::int64_t first_line_ = 0, last_line_ = 0;
  std::vector<Event> events_;
  std::vector<double> retracts_mm_, extras_mm_;
};

// The events judged with settings.
class Trial {
 public:
  Trial(JudgeOptions const& options, std::vector<Event> const& events)
      : options_(options), events_(events) {}

  [[nodiscard]] PrintMetrics as_sliced() const { return judge(1, nullptr); }
  [[nodiscard]] PrintMetrics flow_set_right() const { return judge(factor(), nullptr); }
  [[nodiscard]] PrintMetrics with(StopSetting const& stops) const {
    return judge(factor(), &stops);
  }

 private:
  [[nodiscard]] double factor() const { return options_.plant.feed.delivered_factor; }

  [[nodiscard]] PrintMetrics judge(double factor, StopSetting const* stops) const {
    PrintMetrics metrics;
    RowBook no_rows(nullptr, nullptr, Side::before);
    JudgedPlan plan(options_, Side::before, no_rows, metrics);
    for (Event const& event : events_) {
      if (auto const* move = std::get_if<gcode::Move>(&event.what)) {
        push(*move, event, factor, stops, plan);
      } else if (auto const* halt = std::get_if<gcode::Halt>(&event.what)) {
        plan.push(*halt);
      } else {
        plan.push(std::get<gcode::Setting>(event.what));
      }
    }
    plan.finish();
    return metrics;
  }

  static void push(gcode::Move move,
                   Event const& event,
                   double factor,
                   StopSetting const* stops,
                   JudgedPlan& plan) {
    double const mm3_per_mm = move.e_mm != 0 ? move.volume_mm3 / move.e_mm : 0;
    move = with_flow_set_right(std::move(move), event.piece.kept_e_mm, factor);
    if (stops != nullptr && event.role == Role::retract)
      move.e_mm = -std::max(0.0, stops->retract_mm - event.others_mm);
    if (stops != nullptr && event.role == Role::recovery)
      move.e_mm = std::max(0.0, stops->retract_mm + stops->extra_mm - event.others_mm);
    if (event.role != Role::none && move.e_mm == 0) return;
    move.volume_mm3 = mm3_per_mm * move.e_mm;
    plan.push(move, event.piece);
  }

  JudgeOptions const& options_;
  std::vector<Event> const& events_;
};

// The settings on a grid of grid_mm, each tried once. A second costs `price_mm3_per_s`, so that
// strokes do not grow for nothing.
class Search {
 public:
  Search(Trial const& trial, double price_mm3_per_s, double most_retract_mm, double most_extra_mm)
      : trial_(trial),
        price_mm3_per_s_(price_mm3_per_s),
        most_retract_(static_cast<int>(most_retract_mm / grid_mm)),
        most_extra_(static_cast<int>(most_extra_mm / grid_mm)) {}

  // `usual_mm`: a length of about the right size.
  StopSetting run(double usual_mm) {
    constexpr std::array lengths{0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0};
    constexpr std::array extras{-0.15, 0.0, 0.15};
    for (double const length : lengths)
      for (double const extra : extras) try_at(steps(length * usual_mm), steps(extra * usual_mm));
    for (int step = first_step(usual_mm); step > 0; step /= 2) {
      constexpr int most_moves_each = 8;
      for (int i = 0; i < most_moves_each && try_around(step); ++i) {
      }
    }
    return at(best_);
  }

 private:
  using Place = std::pair<int, int>;
  static StopSetting at(Place place) { return {place.first * grid_mm, place.second * grid_mm}; }
  static int steps(double mm) { return static_cast<int>(std::lround(mm / grid_mm)); }
  static int first_step(double usual_mm) {
    constexpr double part = 0.25;
    int step = 1;
    while (2 * step <= steps(part * usual_mm)) step *= 2;
    return step;
  }

  // True where it is the best so far.
  bool try_at(int retract, int extra) {
    retract = std::clamp(retract, 0, most_retract_);
    Place const place{retract, std::clamp(extra, -retract, most_extra_)};
    auto const [found, is_new] = tried_.try_emplace(place, 0);
    if (!is_new) return false;
    PrintMetrics const metrics = trial_.with(at(place));
    found->second = metrics.misplaced_mm3 + price_mm3_per_s_ * metrics.planned_s;
    if (tried_.size() > 1 && found->second >= tried_.at(best_)) return false;
    best_ = place;
    return true;
  }
  // Whether any of the neighbours is better.
  bool try_around(int step) {
    auto const [retract, extra] = best_;
    bool better = false;
    for (auto const& [r, x] : {Place{1, 0}, {-1, 0}, {0, 1}, {0, -1}})
      better = try_at(retract + r * step, extra + x * step) || better;
    return better;
  }

  Trial const& trial_;
  double price_mm3_per_s_;
  int most_retract_, most_extra_;
  std::map<Place, double> tried_;
  Place best_{};
};

}  // namespace

SlicerSettings best_slicer_settings(std::string const& path,
                                    JudgeOptions const& given,
                                    std::size_t most_moves) {
  JudgeOptions options = given;
  options.prove = Prove::figures_only;
  Demand const demand = survey(path, {options.plant, options.limits, options.g91_covers_e});
  double& max_flow = options.plant.supply.max_flow_mm3_s;
  if (!std::isfinite(max_flow)) max_flow = demand.sustained_flow_mm3_s;
  options.unload_mm3 = unload_mm3(demand, options.plant);
  Excerpt const excerpt(path, options, most_moves);
  Trial const trial(options, excerpt.events());
  SlicerSettings out;
  excerpt.describe(out);
  auto const& feed = options.plant.feed;
  out.flow_share = 1 / feed.delivered_factor;
  out.as_sliced = trial.as_sliced();
  out.flow_set_right = out.advised = trial.flow_set_right();
  if (!(out.flow_set_right.wanted_mm3 > 0)) return out;
  double const mean_flow = out.flow_set_right.wanted_mm3 / out.flow_set_right.path_s;
  out.run_on_mm = melt::run_on_at_flow(options.plant.law, mean_flow) / feed.delivered_mm3_per_mm();
  if (out.stops == 0) return out;
  constexpr double safely = 0.95, price = 0.01, worth_it = 1e-3;
  Search search(trial,
                price * mean_flow,
                safely * *options.unload_mm3 / feed.area_mm2(),
                most_extra_mm3 / feed.area_mm2());
  StopSetting const best = search.run(out.run_on_mm);
  PrintMetrics const advised = trial.with(best);
  out.found = advised.misplaced_mm3 < (1 - worth_it) * out.flow_set_right.misplaced_mm3;
  if (!out.found) return out;
  out.best = best;
  out.advised = advised;
  return out;
}

}  // namespace meltlag::judge
