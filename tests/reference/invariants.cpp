// SPDX-License-Identifier: MIT
// What must hold for every emitted file: path, screw, time, plastic. The text is checked next door.
//
// E's limits are looked at with the head as fast as it goes when the new E does not hold it: a
// printer would brake instead, and the schedule's times would be wrong. Moves of E alone, and the
// corners beside them, are as slow as the printer makes them; the planned time shows it.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double tolerance = 1e-3;         // of limits and times
constexpr double rounding_e_mm = 3e-5;     // of a last E digit, carried
constexpr double rounding_percent = 0.01;  // of the figure, by the last digits of E
constexpr std::size_t enough_words = 20;   // violations of one sort

std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.6g", value);
  return text;
}

class ScrewCheck {
 public:
  ScrewCheck(const Case& files, const Machine& machine)
      : files_(files),
        original_(files.original),
        emitted_(files.emitted),
        mapping_(files.mapping),
        machine_(machine) {}

  std::vector<std::string> run(const InvariantOptions& options) {
    // With the new moves' E left out, the plan shows the speeds the head should keep.
    Program free = emitted_;
    for (std::size_t j = 0; j < free.moves.size(); ++j) {
      free.moves[j].drop_e_limits = !stays(j);
    }
    timed_ = plan(free, machine_, PlanMode::full);
    for (std::size_t j = 0; j < emitted_.moves.size() && found_.size() < enough_words; ++j) {
      limits(j);
      if (j > 0) jump(j);
      cold(j);
    }
    times(options);
    return std::move(found_);
  }

 private:
  void fault(std::size_t j, const std::string& what, double is, double allowed) {
    found_.push_back("line " + std::to_string(emitted_.moves[j].line) + ": " + what + ", " +
                     number(is) + " against " + number(allowed));
  }

  // As sliced, or as sliced with its flow set right.
  bool stays(std::size_t j) const {
    const Piece& piece = mapping_.pieces[j];
    return piece.kept || piece.right || piece.purge;
  }
  bool head(std::size_t j) const { return emitted_.moves[j].kind != MoveKind::e_only; }
  double rate(std::size_t j) const { return emitted_.moves[j].e_mm / timed_[j].length_mm; }

  void limits(std::size_t j) {
    if (stays(j) || !head(j)) return;
    const Limits& limits = emitted_.moves[j].limits;
    const Timed& t = timed_[j];
    const double speed = std::abs(rate(j)) * t.v_peak_mm_s;
    const double a = t.accelerate_s + t.brake_s > 1e-9 ? std::abs(rate(j)) * t.a_mm_s2 : 0;
    const double max_v = limits.max_speed_mm_s[axis_e];
    const double max_a = limits.max_acceleration_mm_s2[axis_e];
    if (speed > max_v * (1 + tolerance)) fault(j, "E too fast (mm/s)", speed, max_v);
    if (a > max_a * (1 + tolerance)) fault(j, "E accelerates too hard (mm/s2)", a, max_a);
  }

  void jump(std::size_t j) {
    if (!head(j) || !head(j - 1)) return;
    if (stays(j) && stays(j - 1)) return;
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

  double time(const Program& program) const {
    return total_time_s(plan(program, machine_, PlanMode::full), program);
  }

  void times(const InvariantOptions& options) {
    const double full = time(emitted_), sliced = time(original_), right = time(files_.right);
    const double allowed = std::max({sliced * (1 + options.extra_time), sliced, right});
    if (full <= allowed * (1 + tolerance)) return;
    found_.push_back("planned time grows: " + number(full) + " s against " + number(allowed) +
                     " s");
  }

  const Case& files_;
  const Program& original_;
  const Program& emitted_;
  const Mapping& mapping_;
  const Machine& machine_;
  std::vector<Timed> timed_;
  std::vector<std::string> found_;
};

}  // namespace

std::vector<std::string> check_screw(const Case& files,
                                     const Machine& machine,
                                     const InvariantOptions& options) {
  return ScrewCheck(files, machine).run(options);
}

std::vector<std::string> check_plastic(const Case& files, const Machine& machine) {
  if (!files.mapping.faults.empty()) return {};  // no cells to judge on
  const double right = judge_column(files, machine, Column::flow_set_right).misplaced_percent;
  const double adapted = judge_column(files, machine, Column::adapted).misplaced_percent;
  if (adapted <= right + rounding_percent) return {};
  return {"more plastic is misplaced than with the flow set right: " + number(adapted) +
          " % against " + number(right) + " %"};
}

std::vector<std::string> check_invariants(std::string_view original_text,
                                          std::string_view emitted_text,
                                          const Plant& plant,
                                          const Machine& machine,
                                          const InvariantOptions& options) {
  const Case files = make_case(original_text, emitted_text, plant, machine, options.path_mm);
  std::vector<std::string> found = files.mapping.faults;
  if (original_text.starts_with("\xEF\xBB\xBF") != emitted_text.starts_with("\xEF\xBB\xBF")) {
    found.push_back("line 1: the byte-order mark is not kept");
  }
  for (const auto& more : {check_text(files.original, files.emitted, files.mapping),
                           check_screw(files, machine, options),
                           check_plastic(files, machine)}) {
    found.insert(found.end(), more.begin(), more.end());
  }
  return found;
}

}  // namespace meltlag_reference
