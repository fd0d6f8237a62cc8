// SPDX-License-Identifier: MIT
// G-code → the schedule problem of all of it at once, by a short way of its own: cuts of equal
// time, cells of equal length, stops that stay with free amounts, dry travels between them.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/gcode/blocks.hpp"
#include "meltlag/gcode/interpreter.hpp"
#include "meltlag/motion/planner.hpp"
#include "meltlag/schedule/problem.hpp"
#include "schedule/drafts.hpp"

namespace meltlag_test {

namespace gcode = meltlag::gcode;
namespace motion = meltlag::motion;

struct CutSizes {
  double cut_s = 0.02, cell_mm = 0.5;
};

inline motion::Limits bench_limits(double travel_acceleration_mm_s2 = 800) {
  motion::Limits limits{};
  limits.acceleration_mm_s2 = 800;
  limits.travel_acceleration_mm_s2 = travel_acceleration_mm_s2;
  limits.corner_jump_mm_s = {10, 10, 0.4, 5};
  limits.max_speed_mm_s = {300, 300, 20, 60};
  limits.max_acceleration_mm_s2 = {9000, 9000, 500, 5000};
  return limits;
}

// All moves of a text as the printer drives them.
class TimedMoves final : public motion::TimedSink, public gcode::MeaningSink {
 public:
  explicit TimedMoves(motion::Limits const& limits) : planner_({limits}, *this) {}
  void read(std::string_view text) {
    auto source = gcode::LineSource::from_text(text, "moves");
    meltlag::Notices notices;
    gcode::Interpreter interpreter({1.75}, notices);
    gcode::for_each_block(source,
                          [&](gcode::Block const& block) { interpreter.interpret(block, *this); });
    planner_.finish();
  }
  void on_move(gcode::Move const& move) override { planner_.push(move); }
  void on_halt(gcode::Halt const& halt) override { planner_.push(halt); }
  void on_setting(gcode::Setting const& setting) override { planner_.push(setting); }
  void on_timed_move(motion::TimedMove const& timed) override { list_.push_back(timed); }
  void on_halt(gcode::Halt const&, double) override {}
  [[nodiscard]] std::vector<motion::TimedMove> const& list() const { return list_; }

 private:
  motion::Planner planner_;
  std::vector<motion::TimedMove> list_;
};

// Builds the problem move by move.
class MoveCutter {
 public:
  MoveCutter(motion::Limits const& limits, CutSizes sizes, Problem& problem)
      : limits_(limits), sizes_(sizes), problem_(problem) {}

  void cut(std::vector<motion::TimedMove> const& moves) {
    for (std::size_t i = 0; i < moves.size(); ++i) {
      bool const still = moves[i].move.kind == gcode::MoveKind::e_only;
      if (still && !printed_)
        continue;  // stays as written before the first bead; nothing depends on it
      if (still) {
        stroke(moves[i], next_way(moves, i));
      } else {
        way(moves[i], is_dry(moves, i));
      }
      printed_ = printed_ || moves[i].move.kind == gcode::MoveKind::print;
    }
  }

 private:
  static constexpr double same_time_s = 1e-9, e_digits_mm = 2e-5;

  static gcode::Move const* next_way(std::vector<motion::TimedMove> const& moves, std::size_t i) {
    while (++i < moves.size())
      if (moves[i].move.length_mm > 0) return &moves[i].move;
    return nullptr;
  }
  // A travel with a stop beside it.
  static bool is_dry(std::vector<motion::TimedMove> const& moves, std::size_t i) {
    auto const kind = [&](std::size_t k) { return moves[k].move.kind; };
    if (kind(i) == gcode::MoveKind::print) return false;
    std::size_t from = i, to = i;
    while (from > 0 && kind(from) != gcode::MoveKind::print) --from;
    while (to + 1 < moves.size() && kind(to) != gcode::MoveKind::print) ++to;
    for (std::size_t k = from; k <= to; ++k)
      if (kind(k) == gcode::MoveKind::e_only) return true;
    return false;
  }

  void stroke(motion::TimedMove const& timed, gcode::Move const* next) {
    motion::Trapezoid const& t = timed.speed;
    Cut cut;
    cut.first_node = static_cast<std::uint32_t>(problem_.nodes.size());
    double const most = std::max(
        1.0, 0.98 * t.acceleration_mm_s2 * t.duration_s() * t.duration_s() / 4 / t.length_mm);
    cut.rate_low = -most;
    cut.rate_high = most;
    cut.rate = timed.move.e_mm < 0 ? -1 : 1;
    cut.lumps = true;
    std::uint32_t const cell = standstill_cell(next);
    std::vector<double> ends{t.rise_s(), t.rise_s() + t.cruise_s(), t.duration_s()};
    double from = 0;
    for (double const to : ends) {
      if (to - from > same_time_s)
        problem_.nodes.push_back({to - from, t.speed_at_time(from), t.speed_at_time(to), cell});
      from = to;
    }
    cut.nodes = static_cast<std::uint32_t>(problem_.nodes.size()) - cut.first_node;
    if (!problem_.cuts.empty()) problem_.cuts.back().jump_to_next = unlimited;
    corner_mm_s_ = -1;
    problem_.cuts.push_back(cut);
  }

  [[nodiscard]] std::uint32_t standstill_cell(gcode::Move const* next) const {
    auto const cells = static_cast<std::uint32_t>(problem_.wanted_mm3.size());
    bool const prints = next != nullptr && next->kind == gcode::MoveKind::print;
    return prints || (next != nullptr && !last_prints_) ? cells : cells - 1;
  }

  // Ends of cuts in time: at most one inside a cell.
  [[nodiscard]] std::vector<double> ends_of(motion::Trapezoid const& t, double cell_mm) const {
    double const duration = t.duration_s();
    double const count = std::max(1.0, std::floor(duration / sizes_.cut_s + 1e-9));
    std::vector<double> ends;
    double last_cell = -1;
    for (double k = 1; k < count; ++k) {
      double const at = duration * k / count, way = t.distance_at(at);
      double const cell = std::floor(way / cell_mm + 1e-9);
      if (cell == last_cell || t.length_mm - way < 0.1) continue;
      last_cell = cell;
      ends.push_back(at);
    }
    ends.push_back(duration);
    return ends;
  }

  void way(motion::TimedMove const& timed, bool dry) {
    motion::Trapezoid const& t = timed.speed;
    bool const prints = timed.move.kind == gcode::MoveKind::print;
    double const cells = prints ? std::max(1.0, std::round(t.length_mm / sizes_.cell_mm)) : 1;
    first_cell_ = static_cast<std::uint32_t>(problem_.wanted_mm3.size());
    problem_.wanted_mm3.insert(problem_.wanted_mm3.end(),
                               static_cast<std::size_t>(cells),
                               prints ? timed.move.volume_mm3 / cells : 0);
    cell_mm_ = t.length_mm / cells;
    double const rate = std::max(0.0, timed.move.e_mm) / t.length_mm;
    double from = 0;
    for (double const to :
         dry ? std::vector{t.duration_s()} : ends_of(t, prints ? cell_mm_ : 1e-9)) {
      add_cut(t, from, to, dry, rate);
      from = to;
    }
    last_prints_ = prints;
  }

  void add_cut(motion::Trapezoid const& t, double from, double to, bool dry, double rate) {
    if (!problem_.cuts.empty() && corner_mm_s_ >= 0)
      problem_.cuts.back().jump_to_next = jump(corner_mm_s_, to - from);
    Cut cut;
    cut.first_node = static_cast<std::uint32_t>(problem_.nodes.size());
    cut.fixed = dry;
    double const peak = add_nodes(t, from, to);
    cut.nodes = static_cast<std::uint32_t>(problem_.nodes.size()) - cut.first_node;
    double const most =
        0.99 * std::min(limits_.max_speed_mm_s[motion::axis_e] / std::max(peak, 1e-9),
                        limits_.max_acceleration_mm_s2[motion::axis_e] / t.acceleration_mm_s2);
    cut.rate_low = -most;
    cut.rate_high = most;
    cut.rate = dry ? 0 : std::min(rate, most);
    corner_mm_s_ = t.speed_at_time(to);
    cut.jump_to_next = jump(corner_mm_s_, to - from);
    problem_.cuts.push_back(cut);
  }

  [[nodiscard]] double jump(double speed_mm_s, double duration_s) const {
    if (speed_mm_s < 1e-6) return unlimited;
    double const most = limits_.corner_jump_mm_s[motion::axis_e];
    return std::max(0.25 * most, 0.98 * most - e_digits_mm / duration_s) / speed_mm_s;
  }

  // Nodes end at the borders of cells and phases; returns the greatest speed.
  double add_nodes(motion::Trapezoid const& t, double from, double to) {
    std::vector<double> ends{t.rise_s(), t.rise_s() + t.cruise_s(), to};
    double const first = std::floor(t.distance_at(from) / cell_mm_),
                 last = t.distance_at(to) / cell_mm_;
    for (double c = first + 1; c < last; ++c) ends.push_back(t.time_at(c * cell_mm_));
    std::ranges::sort(ends);
    double peak = 0;
    for (double const end : ends) {
      double const at = std::min(end, to);
      if (at - from <= same_time_s) continue;
      double const middle = t.distance_at((from + at) / 2) / cell_mm_;
      problem_.nodes.push_back({at - from,
                                t.speed_at_time(from),
                                t.speed_at_time(at),
                                first_cell_ + static_cast<std::uint32_t>(middle)});
      peak = std::max({peak, t.speed_at_time(from), t.speed_at_time(at)});
      from = at;
    }
    return peak;
  }

  static constexpr double unlimited = std::numeric_limits<double>::infinity();
  motion::Limits const& limits_;
  CutSizes sizes_;
  Problem& problem_;
  bool printed_ = false, last_prints_ = false;
  std::uint32_t first_cell_ = 0;
  double cell_mm_ = 0;
  double corner_mm_s_ = -1;  // head speed at the end of the last cut; < 0: after a stop
};

// A standstill after the last cell belongs to that cell.
inline Problem problem_of(std::string_view text,
                          LagLaw const& law,
                          motion::Limits const& limits,
                          CutSizes sizes = {}) {
  TimedMoves moves(limits);
  moves.read(text);
  Problem problem;
  problem.laws.push_back(law);
  problem.feed.slicer_diameter_mm = 1.75;
  MoveCutter(limits, sizes, problem).cut(moves.list());
  auto const last = static_cast<std::uint32_t>(problem.wanted_mm3.size()) - 1;
  for (Node& node : problem.nodes) node.cell = std::min(node.cell, last);
  return problem;
}

}  // namespace meltlag_test
