// SPDX-License-Identifier: MIT
#include "invariants_screw.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace meltlag::judge {
namespace {

constexpr double tolerance = 1e-3;      // of limits and times
constexpr double rounding_e_mm = 3e-5;  // of a last E digit, carried forward
constexpr double rounding_s = 1e-3;

}  // namespace

ScrewCheck::ScrewCheck(JudgeOptions const& options, Violations& violations)
    : options_(options), violations_(violations), planner_({.limits = options.limits}, *this) {}

void ScrewCheck::push(gcode::Move const& move, PathPiece const& piece) {
  motion::Limits const& now = planner_.limits();
  bool const e_only = move.kind == gcode::MoveKind::e_only;
  double const length = e_only ? std::abs(move.e_mm) : move.length_mm;
  bool const kept = piece.kept || piece.flow_right;
  screws_.push({.line = move.line,
                .original_line = piece.line,
                .rate = move.e_mm / length,
                .speed_mm_s = now.max_speed_mm_s[motion::axis_e],
                .acceleration_mm_s2 = now.max_acceleration_mm_s2[motion::axis_e],
                .jump_mm_s = now.corner_jump_mm_s[motion::axis_e],
                .kept = kept,
                .purge = piece.purge,
                .e_only = e_only});
  cold(move, piece);
  planner_.push(move, kept ? motion::PlanE::included : motion::PlanE::beside_stops);
}

void ScrewCheck::cold(gcode::Move const& move, PathPiece const& piece) {
  if (!(move.nozzle_c < options_.cold_below_c) || piece.kept || piece.purge) return;
  double const written = piece.added ? 0 : piece.e_mm * (piece.to - piece.from);
  if (std::abs(move.e_mm - written) <= rounding_e_mm * move.write.mm_per_unit) return;
  violations_.add(fmt::format("line {}: E is changed where the nozzle is cold ({:.4f} mm, {:.4f} "
                              "as written)",
                              move.line,
                              move.e_mm,
                              written),
                  piece.line);
}

void ScrewCheck::broken(Screw const& screw, char const* what, double is, double allowed) {
  violations_.add(fmt::format("line {}: {}: {:.4g}, allowed {:.4g}", screw.line, what, is, allowed),
                  screw.original_line);
}

void ScrewCheck::limits(Screw const& screw, motion::Trapezoid const& speed) {
  double const e_speed = std::abs(screw.rate) * speed.peak_mm_s;
  if (e_speed > screw.speed_mm_s * (1 + tolerance)) {
    broken(screw, "E is too fast (mm/s)", e_speed, screw.speed_mm_s);
  }
  bool const changes = speed.peak_mm_s > std::min(speed.entry_mm_s, speed.exit_mm_s) + 1e-9;
  double const e_acceleration = std::abs(screw.rate) * speed.acceleration_mm_s2;
  if (changes && e_acceleration > screw.acceleration_mm_s2 * (1 + tolerance)) {
    broken(screw, "E accelerates too hard (mm/s²)", e_acceleration, screw.acceleration_mm_s2);
  }
}

void ScrewCheck::on_timed_move(motion::TimedMove const& timed) {
  Screw const screw = screws_.front();
  screws_.pop();
  if (!screw.kept && !screw.purge) limits(screw, timed.speed);
  bool const both_on_path = !screw.e_only && !last_.e_only;
  if (both_on_path && !(screw.kept && last_.kept)) {
    double const jump =
        std::abs(screw.rate - last_.rate) * std::min(last_exit_mm_s_, timed.speed.entry_mm_s);
    if (jump > screw.jump_mm_s * (1 + tolerance)) {
      broken(screw, "E jumps too far at its start (mm/s)", jump, screw.jump_mm_s);
    }
  }
  last_ = screw;
  last_exit_mm_s_ = timed.speed.exit_mm_s;
}

void ScrewCheck::finish(Judgement const& judged) {
  planner_.finish();
  PrintMetrics const &before = judged.before, &after = judged.after, &right = judged.flow_set_right;
  auto const longer = [&](char const* what, double is_s, double allowed_s) {
    if (is_s <= allowed_s * (1 + tolerance) + rounding_s) return;
    violations_.add(fmt::format("{}: {:.3f} s, allowed {:.3f} s", what, is_s, allowed_s));
  };
  longer("the screw slows the head", after.planned_s, planner_.time_s());
  constexpr double in_vain = 5e-3;  // of what is wanted
  // Which of a stop's turns count as kept depends on what was emitted; all together do not.
  auto const in_all = [](PrintMetrics const& f) { return f.starved_mm3 + f.starved_kept_mm3; };
  double const room_mm3 = in_vain * after.wanted_mm3;
  double const allowed_mm3 = std::max(before.starved_mm3, right.starved_mm3);
  if (after.starved_mm3 > allowed_mm3 + room_mm3 &&
      in_all(after) > std::max(in_all(before), in_all(right)) + room_mm3) {
    violations_.add(fmt::format("the screw is turned in vain: {:.3f} mm³, {:.3f} mm³ as sliced",
                                after.starved_mm3,
                                allowed_mm3));
  }
  // Granted is a share of the time as sliced; flow set right may take what it takes.
  double const allowed_s = std::max(before.planned_s * (1 + options_.extra_time), right.planned_s);
  longer("the planned time grows", after.planned_s, allowed_s);
  if (options_.speeds == Speeds::as_written)
    longer("the path alone takes longer", after.path_s, before.path_s * (1 + options_.extra_time));
  longer("the path alone takes less time: the original's", before.path_s, after.path_s);
}

}  // namespace meltlag::judge
