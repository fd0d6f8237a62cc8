// SPDX-License-Identifier: MIT
// What must hold for every emitted file: path, screw and time. The text is checked next door.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double tolerance = 1e-3;        // of limits and times
constexpr double rounding_e_mm = 3e-5;    // of a last E digit, carried
constexpr std::size_t enough_words = 20;  // violations of one sort

std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.6g", value);
  return text;
}

class ScrewCheck {
 public:
  ScrewCheck(const Program& original,
             const Program& emitted,
             const Mapping& mapping,
             const Plant& plant,
             const Machine& machine)
      : original_(original),
        emitted_(emitted),
        mapping_(mapping),
        plant_(plant),
        machine_(machine) {}

  std::vector<std::string> run(const InvariantOptions& options) {
    // With the new moves' E left out, the plan shows the speeds the head should keep.
    Program free = emitted_;
    for (std::size_t j = 0; j < free.moves.size(); ++j) {
      free.moves[j].drop_e_limits = !mapping_.pieces[j].kept;
    }
    timed_ = plan(free, machine_, PlanMode::full);
    for (std::size_t j = 0; j < emitted_.moves.size() && found_.size() < enough_words; ++j) {
      limits(j);
      if (j > 0) jump(j);
      cold(j);
    }
    times(total_time_s(timed_, emitted_), options);
    return std::move(found_);
  }

 private:
  void fault(std::size_t j, const std::string& what, double is, double allowed) {
    found_.push_back("line " + std::to_string(emitted_.moves[j].line) + ": " + what + ", " +
                     number(is) + " against " + number(allowed));
  }

  bool head(std::size_t j) const { return emitted_.moves[j].kind != MoveKind::e_only; }
  double rate(std::size_t j) const { return emitted_.moves[j].e_mm / timed_[j].length_mm; }

  void limits(std::size_t j) {
    if (mapping_.pieces[j].kept || mapping_.pieces[j].purge) return;
    const Limits& limits = emitted_.moves[j].limits;
    const Timed& t = timed_[j];
    const double speed = std::abs(rate(j)) * t.v_peak_mm_s;
    const double flow = rate(j) * t.v_peak_mm_s * plant_.area_mm2() * plant_.delivered_factor;
    const double a = t.accelerate_s + t.brake_s > 1e-9 ? std::abs(rate(j)) * t.a_mm_s2 : 0;
    const double max_v = limits.max_speed_mm_s[axis_e];
    const double max_a = limits.max_acceleration_mm_s2[axis_e];
    if (speed > max_v * (1 + tolerance)) fault(j, "E too fast (mm/s)", speed, max_v);
    if (a > max_a * (1 + tolerance)) fault(j, "E accelerates too hard (mm/s2)", a, max_a);
    if (flow > machine_.max_flow_mm3_s * (1 + tolerance)) {
      fault(j, "too much flow (mm3/s)", flow, machine_.max_flow_mm3_s);
    }
  }

  void jump(std::size_t j) {
    if (!head(j) || !head(j - 1)) return;
    if (mapping_.pieces[j].kept && mapping_.pieces[j - 1].kept) return;
    const double v = std::min(timed_[j].v_in_mm_s, timed_[j - 1].v_out_mm_s);
    const double is = std::abs(rate(j) - rate(j - 1)) * v;
    const double allowed = emitted_.moves[j].limits.jump_mm_s[axis_e];
    if (is > allowed * (1 + tolerance)) fault(j, "E jumps at a corner (mm/s)", is, allowed);
  }

  void cold(std::size_t j) {
    const Move& move = emitted_.moves[j];
    const Piece& piece = mapping_.pieces[j];
    if (!move.set_c || *move.set_c >= machine_.cold_below_c || piece.kept || piece.purge) return;
    double written = 0;
    if (head(j) && piece.move < original_.moves.size()) {
      written = original_.moves[piece.move].e_mm * (piece.to - piece.from);
    }
    if (std::abs(move.e_mm - written) > rounding_e_mm) {
      fault(j, "E changed where it is cold (mm)", move.e_mm, written);
    }
  }

  double time(const Program& program, PlanMode mode) const {
    return total_time_s(plan(program, machine_, mode), program);
  }

  void compare(const std::string& what, double is, double should) {
    if (std::abs(is - should) <= tolerance * should + 1e-6) return;
    found_.push_back(what + ": " + number(is) + " s against " + number(should) + " s");
  }

  void times(double unhindered, const InvariantOptions& options) {
    const double full = time(emitted_, PlanMode::full);
    const double before = time(original_, PlanMode::full) * (1 + options.extra_time);
    if (full > unhindered) compare("the screw slows the head", full, unhindered);
    if (full > before * (1 + tolerance)) {
      found_.push_back("planned time grows: " + number(full) + " s against " + number(before) +
                       " s");
    }
    if (options.extra_time > 0) return;
    compare("the head's own path takes another time",
            time(emitted_, PlanMode::path_only),
            time(original_, PlanMode::path_only));
  }

  const Program& original_;
  const Program& emitted_;
  const Mapping& mapping_;
  const Plant& plant_;
  const Machine& machine_;
  std::vector<Timed> timed_;
  std::vector<std::string> found_;
};

}  // namespace

std::vector<std::string> check_screw(const Program& original,
                                     const Program& emitted,
                                     const Mapping& mapping,
                                     const Plant& plant,
                                     const Machine& machine,
                                     const InvariantOptions& options) {
  return ScrewCheck(original, emitted, mapping, plant, machine).run(options);
}

std::vector<std::string> check_invariants(std::string_view original_text,
                                          std::string_view emitted_text,
                                          const Plant& plant,
                                          const Machine& machine,
                                          const InvariantOptions& options) {
  const Program original = read_program(original_text, machine, plant);
  const Program emitted = read_program(emitted_text, machine, plant);
  const Mapping mapping = map_moves(original, emitted, plant, options.path_mm);
  std::vector<std::string> found = mapping.faults;
  if (original_text.starts_with("\xEF\xBB\xBF") != emitted_text.starts_with("\xEF\xBB\xBF")) {
    found.push_back("line 1: the byte-order mark is not kept");
  }
  const auto text = check_text(original, emitted, mapping);
  found.insert(found.end(), text.begin(), text.end());
  const auto screw = check_screw(original, emitted, mapping, plant, machine, options);
  found.insert(found.end(), screw.begin(), screw.end());
  return found;
}

}  // namespace meltlag_reference
