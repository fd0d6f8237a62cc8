// SPDX-License-Identifier: MIT
#include "cutter.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "e_digits.hpp"
#include "meltlag/judge/path_piece.hpp"
#include "speed_profile.hpp"
#include "stroke.hpp"

namespace meltlag::adapt {
namespace {

constexpr double shortest_piece_mm = 0.1;  // so that rounded ends do not turn its direction
constexpr double path_digit_mm = 0.0002;   // of a cut's emitted end
constexpr double arc_jump_margin = 0.95;   // sub-arcs turn a little with the last digits of I and J
constexpr double jump_margin = 0.98;
constexpr double limit_margin = 0.99;
constexpr double no_choice = 1e-4;  // E mm per mm
constexpr double same_time_s = 1e-9;
constexpr double most_cuts = 4096;  // of one move: time must depend on the file's length alone

std::size_t cell_count(gcode::Move const& move, double cell_mm) {
  if (move.kind != gcode::MoveKind::print) return 1;
  return static_cast<std::size_t>(
      std::clamp(std::round(move.length_mm / cell_mm), 1.0, judge::most_cells));
}

// An arc whose end is off its circle cannot be cut into exact arcs.
bool is_spiral(gcode::Move const& move) {
  if (move.arc.radius_mm <= 0) return false;
  auto const component = [&](std::uint8_t axis) {
    return axis == 0 ? move.end_mm.x : axis == 1 ? move.end_mm.y : move.end_mm.z;
  };
  double const end = std::hypot(component(move.arc.axis_a) - move.arc.centre_a_mm,
                                component(move.arc.axis_b) - move.arc.centre_b_mm);
  return std::abs(end - move.arc.radius_mm) > 0.002;
}

// Arcs whose direction at the ends depends on the last digits of their words: printers may take the
// corner faster than planned here.
bool is_doubtful(gcode::Move const& move) {
  return move.arc.radius_mm > 0 && (move.length_mm < shortest_piece_mm || is_spiral(move));
}

void keep_within(RateBounds const& bounds, schedule::Cut& cut) {
  cut.rate_low = std::min(std::max(cut.rate_low, bounds.low), cut.rate_high);
  cut.rate_high = std::max(std::min(cut.rate_high, bounds.high), cut.rate_low);
}

bool has_choice(schedule::Cut const& cut) { return cut.rate_high - cut.rate_low >= no_choice; }

// The rate of a scheduled move between two places along its path.
double mean_rate(std::vector<RatePiece> const& pieces, double from_mm, double to_mm) {
  double e_mm = 0, begin_mm = 0;
  for (RatePiece const& piece : pieces) {
    double const from = std::max(from_mm, begin_mm), to = std::min(to_mm, piece.end_mm);
    e_mm += piece.rate * std::max(0.0, to - from);
    begin_mm = piece.end_mm;
  }
  return e_mm / (to_mm - from_mm);
}

// Beside a cut that stays as written, the corner was planned as if the screw stood on this side of
// it: standing must remain possible, however close to the limit that is.
void allow_standing(schedule::Cut& before, schedule::Cut const& after) {
  for (schedule::Cut const* cut : {&std::as_const(before), &after}) {
    if (cut->fixed && has_choice(*cut))
      before.jump_to_next = std::max(before.jump_to_next, std::abs(cut->rate));
  }
}

}  // namespace

Cutter::Cutter(CutterOptions options, melt::PlantParameters plant)
    : options_(options), plant_(plant) {}

// Buffered moves have to cover the time that stopping takes.
double Cutter::cut_time(motion::Trapezoid const& speed) const {
  double const stop_s =
      speed.acceleration_mm_s2 > 0 ? speed.peak_mm_s / speed.acceleration_mm_s2 : 0;
  return std::max(options_.shortest_cut_s, stop_s / std::max(1, options_.buffer_moves - 2));
}

std::size_t Cutter::count_cuts(motion::Trapezoid const& speed) const {
  return static_cast<std::size_t>(
      std::clamp(std::floor(speed.duration_s() / cut_time(speed) + 1e-9), 1.0, most_cuts));
}

std::size_t Cutter::count_cuts(PlannedMove const& planned) const {
  if (planned.extrusion != ExtrusionPolicy::free_rate || !planned.free_e ||
      planned.move.length_mm <= 0)
    return 1;
  if (is_spiral(planned.move)) return 1;
  if (planned.paced.empty()) return count_cuts(planned.speed);
  std::size_t count = 0;
  for (PacedStretch const& s : planned.paced) count += count_cuts(s.speed);
  return count;
}

// Cuts of equal time, but at most one border inside a cell, so that a cell touches two cuts at the
// most.
void Cutter::cut_ends(PlannedMove const& planned, std::vector<double>& ends_mm) const {
  ends_mm.clear();
  if (planned.paced.empty() || count_cuts(planned) == 1) {
    append_ends(planned, {0, 0, 0, planned.speed}, count_cuts(planned), ends_mm);
    return;
  }
  for (PacedStretch const& s : planned.paced) append_ends(planned, s, count_cuts(s.speed), ends_mm);
}

// Into `count` cuts, fewer where they would be too short.
void Cutter::append_ends(PlannedMove const& planned,
                         PacedStretch const& stretch,
                         std::size_t count,
                         std::vector<double>& ends_mm) const {
  double const length = planned.speed.length_mm;
  double const duration = stretch.speed.duration_s();
  auto const cells = static_cast<double>(cell_count(planned.move, options_.cell_mm));
  bool const prints = planned.move.kind == gcode::MoveKind::print;
  auto const cell_at = [&](double s) { return std::floor(s / length * cells + 1e-9); };
  bool const last = stretch.begin_mm + stretch.speed.length_mm >= length * (1 - 1e-12);
  double const end = last ? length : stretch.begin_mm + stretch.speed.length_mm;
  double cell_of_last = ends_mm.empty() ? -1 : cell_at(ends_mm.back());
  for (std::size_t k = 1; k < count; ++k) {
    double const s =
        stretch.begin_mm +
        stretch.speed.distance_at(duration * static_cast<double>(k) / static_cast<double>(count));
    double const cell = cell_at(s);
    if (prints && (cell == cell_of_last || (!last && cell == cell_at(end)))) continue;
    double const before = ends_mm.empty() ? 0 : ends_mm.back();
    if (s - before < shortest_piece_mm || end - s < shortest_piece_mm) continue;
    cell_of_last = cell;
    ends_mm.push_back(s);
  }
  ends_mm.push_back(end);
}

double Cutter::jump_rate(Joint const& joint, Joint const& next) const {
  if (joint.speed_mm_s < 1e-6) return std::numeric_limits<double>::infinity();
  // Rounding shows most in the shorter of two neighbours.
  double const duration_s = std::min(joint.duration_s, next.duration_s);
  double const digit = 2 * std::max(joint.digit_mm, next.digit_mm) / std::max(duration_s, 1e-6);
  double const margin = (next.arc || joint.arc ? arc_jump_margin : jump_margin) - options_.caution;
  return std::max(0.25 * joint.jump_mm_s, margin * joint.jump_mm_s - digit) / joint.speed_mm_s;
}

std::uint32_t Cutter::law_for(double nozzle_c, schedule::Problem& problem) {
  for (std::size_t i = 0; i < law_temperature_.size(); ++i) {
    bool const both_unknown = std::isnan(law_temperature_[i]) && std::isnan(nozzle_c);
    if (both_unknown || law_temperature_[i] == nozzle_c) return static_cast<std::uint32_t>(i);
  }
  law_temperature_.push_back(nozzle_c);
  problem.laws.push_back(melt::at_temperature(plant_.law, nozzle_c));
  return static_cast<std::uint32_t>(problem.laws.size() - 1);
}

// Rounding E to its last digit and the ends of cuts to theirs must not break a limit.
void Cutter::set_limits(PlannedMove const& planned,
                        double peak_mm_s,
                        double length_mm,
                        schedule::Cut& cut) const {
  double const v = std::max(peak_mm_s, 1e-9);
  double most = planned.max_e_mm_s / v;
  if (planned.speed.acceleration_mm_s2 > 0)
    most = std::min(most, planned.max_e_mm_s2 / planned.speed.acceleration_mm_s2);
  double const digit = e_rounding_mm(planned.move) / std::max(length_mm, 1e-4);
  double const margin =
      limit_margin - options_.caution - path_digit_mm / std::max(length_mm, shortest_piece_mm);
  cut.rate_low = std::min(0.0, digit - margin * most);
  cut.rate_high = std::max(0.0, margin * most - digit);
}

// What is known of the corner between the last move and this one.
void Cutter::enter_joint(PlannedMove const& planned, double planned_mm_s, double most_mm_s) {
  // A setting between two moves holds at their corner already.
  if (std::isfinite(joint_.jump_mm_s)) joint_.jump_mm_s = planned.jump_mm_s[motion::axis_e];
  if (is_doubtful(planned.move))
    joint_.speed_mm_s = std::max(joint_.speed_mm_s, planned.move.feed_mm_s);
  double const most = std::max(planned_mm_s, std::min(joint_.most_mm_s, most_mm_s));
  joint_.speed_mm_s = std::min(joint_.speed_mm_s, most);
}

// Nodes end at the borders of cells and phases.
void Cutter::append_nodes(SpeedProfile const& speed,
                          double from_s,
                          double to_s,
                          NodePlace& place,
                          schedule::Problem& problem) {
  double at = from_s;
  while (place.border < borders_.size() && borders_[place.border] <= to_s + same_time_s) {
    double const next = std::min(borders_[place.border++], to_s);
    if (next - at <= same_time_s) continue;
    double const middle = (at + next) / 2;
    while (place.cell + 1 < cells_.size() && cells_[place.cell] < middle) ++place.cell;
    problem.nodes.push_back({next - at,
                             speed.speed_at_time(at),
                             speed.speed_at_time(next),
                             place.first_cell + static_cast<std::uint32_t>(place.cell)});
    at = next;
  }
}

// The borders of the move's cells and phases in time.
void Cutter::find_borders(SpeedProfile const& speed, std::size_t cells) {
  borders_.clear();
  cells_.clear();
  for (std::size_t k = 1; k < cells; ++k) {
    cells_.push_back(
        speed.time_at(speed.length_mm() * static_cast<double>(k) / static_cast<double>(cells)));
  }
  cells_.push_back(speed.duration_s());
  borders_ = cells_;
  for (double s : ends_) borders_.push_back(speed.time_at(s));
  speed.phase_ends(borders_);
  std::sort(borders_.begin(), borders_.end());
}

// What stands as long as nothing is chosen.
Cutter::GivenRate Cutter::given_rate(PlannedMove const& planned, double length_mm) const {
  bool const fixed = planned.extrusion != ExtrusionPolicy::free_rate || !planned.free_e;
  double const right = planned.move.e_mm / (length_mm * plant_.feed.delivered_factor);
  double const rate = planned.extrusion == ExtrusionPolicy::as_written
                          ? planned.move.e_mm / length_mm
                      : planned.extrusion == ExtrusionPolicy::flow_right ? right
                                                                         : std::max(0.0, right);
  double const most_mm_s = fixed && rate != 0 ? planned.jump_mm_s[motion::axis_e] / std::abs(rate)
                                              : std::numeric_limits<double>::infinity();
  return {rate, most_mm_s, fixed};
}

// The k-th cut of a move, without its nodes.
schedule::Cut Cutter::cut_of(PlannedMove const& planned,
                             GivenRate const& given,
                             std::size_t k,
                             double peak_mm_s,
                             schedule::Problem& problem) {
  schedule::Cut cut;
  cut.first_node = static_cast<std::uint32_t>(problem.nodes.size());
  cut.law = law_for(planned.move.nozzle_c, problem);
  set_limits(planned, peak_mm_s, ends_[k] - (k == 0 ? 0 : ends_[k - 1]), cut);
  cut.fixed = given.fixed;
  cut.rate = given.rate;
  if (k == 0) keep_within(planned.at_start, cut);
  if (k + 1 == ends_.size()) keep_within(planned.at_end, cut);
  if (!cut.fixed) cut.rate = std::clamp(cut.rate, cut.rate_low, cut.rate_high);
  // Nothing to choose: between bounds as close as this the solver would crawl.
  cut.fixed |= !has_choice(cut);
  if (planned.scheduled && planned.extrusion == ExtrusionPolicy::free_rate &&
      !planned.pieces.empty()) {
    cut.fixed = true;
    cut.rate = cut.rate_low = cut.rate_high =
        mean_rate(planned.pieces, k == 0 ? 0 : ends_[k - 1], ends_[k]);
  }
  return cut;
}

// Joins the cut to the one before it, whose corner ends there.
void Cutter::append_cut(schedule::Cut cut, Joint const& end, schedule::Problem& problem) {
  cut.nodes = static_cast<std::uint32_t>(problem.nodes.size()) - cut.first_node;
  if (!problem.cuts.empty() && std::isfinite(joint_.jump_mm_s)) {
    problem.cuts.back().jump_to_next = jump_rate(joint_, end);
    allow_standing(problem.cuts.back(), cut);
  }
  joint_ = end;
  cut.jump_to_next = jump_rate(joint_, joint_);
  problem.cuts.push_back(cut);
}

void Cutter::append_move(PlannedMove const& planned, schedule::Problem& problem) {
  SpeedProfile const speed(planned);
  gcode::Move const& move = planned.move;
  std::size_t const cells = cell_count(move, options_.cell_mm);
  NodePlace place{.first_cell = static_cast<std::uint32_t>(problem.wanted_mm3.size())};
  last_cell_prints_ = move.kind == gcode::MoveKind::print;
  double const wanted = last_cell_prints_ ? move.volume_mm3 / static_cast<double>(cells) : 0;
  problem.wanted_mm3.insert(problem.wanted_mm3.end(), cells, wanted);

  cut_ends(planned, ends_);
  find_borders(speed, cells);
  GivenRate const given = given_rate(planned, speed.length_mm());
  enter_joint(planned, speed.entry_mm_s(), given.most_mm_s);
  double from = 0;
  for (std::size_t k = 0; k < ends_.size(); ++k) {
    bool const last = k + 1 == ends_.size();
    double const to = last ? speed.duration_s() : speed.time_at(ends_[k]);
    schedule::Cut const cut = cut_of(planned, given, k, speed.peak_between(from, to), problem);
    append_nodes(speed, from, to, place, problem);
    double end_mm_s = speed.speed_at_time(to);
    if (last && is_doubtful(move))
      end_mm_s = std::max(end_mm_s, std::min(move.feed_mm_s, given.most_mm_s));
    Joint const end{planned.jump_mm_s[motion::axis_e],
                    end_mm_s,
                    to - from,
                    move.arc.radius_mm > 0,
                    e_rounding_mm(move),
                    given.most_mm_s};
    append_cut(cut, end, problem);
    from = to;
  }
}

std::uint32_t Cutter::standstill_cell(PlannedMove const* next,
                                      schedule::Problem const& problem) const {
  auto const cells = static_cast<std::uint32_t>(problem.wanted_mm3.size());
  bool const next_prints = next != nullptr && next->move.kind == gcode::MoveKind::print;
  if (next_prints || (next != nullptr && !last_cell_prints_))
    return cells;  // the next cell's number
  return cells > 0 && last_cell_prints_ ? cells - 1 : schedule::no_cell;
}

// An E-only move that stays: the screw turns, the head rests.
void Cutter::append_standstill(PlannedMove const& planned,
                               PlannedMove const* next,
                               schedule::Problem& problem) {
  motion::Trapezoid const& t = planned.speed;
  std::uint32_t const cell = planned.purge ? schedule::no_cell : standstill_cell(next, problem);
  schedule::Cut cut;
  cut.first_node = static_cast<std::uint32_t>(problem.nodes.size());
  cut.law = law_for(planned.move.nozzle_c, problem);
  set_stroke(planned, cut);
  cut.lumps = true;
  if (t.rise_s() > 0) problem.nodes.push_back({t.rise_s(), t.entry_mm_s, t.peak_mm_s, cell});
  if (t.cruise_s() > 0) problem.nodes.push_back({t.cruise_s(), t.peak_mm_s, t.peak_mm_s, cell});
  if (t.fall_s() > 0) problem.nodes.push_back({t.fall_s(), t.peak_mm_s, t.exit_mm_s, cell});
  cut.nodes = static_cast<std::uint32_t>(problem.nodes.size()) - cut.first_node;
  if (!problem.cuts.empty())
    problem.cuts.back().jump_to_next = std::numeric_limits<double>::infinity();
  joint_ = {};
  problem.cuts.push_back(cut);
}

// Its way is that of the plan: the rate is the share of it that E goes.
void Cutter::set_stroke(PlannedMove const& planned, schedule::Cut& cut) const {
  bool const free = planned.extrusion == ExtrusionPolicy::free_stroke;
  cut.rate = (free ? planned.stroke_e_mm : planned.move.e_mm) < 0 ? -1 : 1;
  cut.fixed = !free || planned.stroke_decided;
  if (!free) return;
  double const most = longest_stroke(planned) / std::max(planned.speed.length_mm, 1e-9);
  cut.rate_low = -std::max(most, std::abs(cut.rate));
  cut.rate_high = -cut.rate_low;
}

void Cutter::append_dwell(PlannedMove const& planned,
                          PlannedMove const* next,
                          schedule::Problem& problem) {
  schedule::Cut cut;
  cut.first_node = static_cast<std::uint32_t>(problem.nodes.size());
  cut.law = law_for(planned.move.nozzle_c, problem);
  cut.fixed = true;
  cut.nodes = 1;
  joint_ = {};
  problem.nodes.push_back({planned.dwell_after_s, 0, 0, standstill_cell(next, problem)});
  problem.cuts.push_back(cut);
}

void Cutter::build(std::span<PlannedMove* const> moves,
                   schedule::Problem& problem,
                   std::vector<CutRange>& ranges) {
  problem.clear();
  law_temperature_.clear();
  ranges.clear();
  problem.feed = plant_.feed;
  problem.leak_per_s = plant_.leak_per_s;
  last_cell_prints_ = false;
  joint_ = {};
  for (std::size_t i = 0; i < moves.size(); ++i) {
    PlannedMove const& planned = *moves[i];
    auto const first = static_cast<std::uint32_t>(problem.cuts.size());
    PlannedMove const* next = nullptr;
    for (std::size_t j = i + 1; j < moves.size() && next == nullptr; ++j) {
      if (moves[j]->move.length_mm > 0) next = moves[j];
    }
    if (planned.move.length_mm > 0) {
      append_move(planned, problem);
    } else if (planned.extrusion != ExtrusionPolicy::absorbed) {
      append_standstill(planned, next, problem);
    }
    if (planned.dwell_after_s > 0) append_dwell(planned, next, problem);
    if (planned.wait_after && !problem.cuts.empty()) problem.cuts.back().run_out_after = true;
    ranges.push_back({first, static_cast<std::uint32_t>(problem.cuts.size()) - first});
  }
  problem.may_lump.assign(problem.wanted_mm3.size(), false);
  for (auto const& cut : problem.cuts) {
    if (!cut.lumps) continue;
    for (std::uint32_t n = cut.first_node; n < cut.first_node + cut.nodes; ++n)
      if (problem.nodes[n].cell < problem.may_lump.size())
        problem.may_lump[problem.nodes[n].cell] = true;
  }
  // A standstill at the very end waits for a cell that is not in this window.
  auto const cells = static_cast<std::uint32_t>(problem.wanted_mm3.size());
  for (auto& node : problem.nodes) {
    if (node.cell != schedule::no_cell && node.cell >= cells) node.cell = schedule::no_cell;
  }
}

}  // namespace meltlag::adapt
