// SPDX-License-Identifier: MIT
#include "test_piece_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/motion/walk.hpp"

namespace meltlag::testpiece::piece {
namespace {

constexpr double slow_change_s = 0.3;  // a lag shorter than this is hardly seen after it

class TimedMoveList : public motion::WalkSink {
 public:
  explicit TimedMoveList(std::vector<motion::TimedMove>& moves) : moves_(moves) {}
  void on_timed_move(motion::TimedMove const& timed) override { moves_.push_back(timed); }

 private:
  std::vector<motion::TimedMove>& moves_;
};

// Rounding of what is written: 1e-3 mm in X, 1e-5 mm in E, 1e-3 mm/min in F.
bool means(motion::TimedMove const& timed, Section const& section, double left_x_mm) {
  gcode::Move const& move = timed.move;
  double const e_mm = std::abs(section.to_mm - section.from_mm) * section.e_mm_per_mm;
  return std::abs(move.start_mm.x - left_x_mm - section.from_mm) < 2e-3 &&
         std::abs(move.end_mm.x - left_x_mm - section.to_mm) < 2e-3 &&
         std::abs(move.e_mm - e_mm) < 1e-3 * std::max(e_mm, 1.0) &&
         std::abs(move.feed_mm_s - section.speed_mm_s) < 1e-3;
}

[[noreturn]] void blame_start_code() {
  throw Error("the start code changes what the test piece's lines mean: speed, flow or E",
              {},
              "Take M220, M221, M200 and relative positioning (G91) out of the start code.");
}

// The slowest of what was found, for one remark instead of hundreds.
struct Worst {
  double reached_part = 1;
  double change_s = 0;
};

void look_at(motion::TimedMove const& timed, Section const& section, Worst& worst) {
  motion::Trapezoid const& speed = timed.speed;
  worst.reached_part = std::min(worst.reached_part, speed.peak_mm_s / section.speed_mm_s);
  worst.change_s = std::max({worst.change_s, speed.rise_s(), speed.fall_s()});
}

void check(Section const& section, double left_x_mm, Plan const& plan, Worst& worst) {
  for (std::int64_t const line : section.lines) {
    motion::TimedMove const* const timed = plan.of_line(line);
    if (timed == nullptr || !means(*timed, section, left_x_mm)) blame_start_code();
    look_at(*timed, section, worst);
  }
}

}  // namespace

motion::TimedMove const* Plan::of_line(std::int64_t line) const {
  auto const at = std::lower_bound(
      moves.begin(), moves.end(), line, [](auto const& timed, std::int64_t wanted) {
        return timed.move.line < wanted;
      });
  return at == moves.end() || at->move.line != line ? nullptr : &*at;
}

Plan plan(std::string const& gcode, PieceOptions const& options) {
  Plan plan;
  TimedMoveList list(plan.moves);
  Notices notices;
  plan.duration_s = motion::walk(gcode::LineSource::from_text(gcode, "the test piece"),
                                 {options.slicer_diameter_mm, options.limits},
                                 notices,
                                 list)
                        .planned_s;
  return plan;
}

void check_sections(TestPiece const& piece, Plan const& plan, std::vector<std::string>& remarks) {
  Worst worst;
  for (Wall const& wall : piece.walls) {
    for (Section const& section : wall.sections) {
      check(section, piece.ruler_zero_x_mm, plan, worst);
    }
  }
  if (piece.turn_bead) {
    for (Section const& section : piece.turn_bead->sections) {
      check(section, piece.ruler_zero_x_mm, plan, worst);
    }
  }
  if (worst.reached_part < 0.999) {
    remarks.push_back(
        fmt::format("The printer's limits slow a stretch to {:.0f} % of the speed it is given.",
                    100 * worst.reached_part));
  }
  if (worst.change_s > slow_change_s) {
    remarks.push_back(
        fmt::format("The head takes {:.1f} s for its slowest change of speed (acceleration and the "
                    "corner jump of E decide): short lags are hard to see after it.",
                    worst.change_s));
  }
}

}  // namespace meltlag::testpiece::piece
