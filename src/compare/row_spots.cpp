// SPDX-License-Identifier: MIT
#include "row_spots.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/gcode/tolerances.hpp"
#include "meltlag/reading/caliper.hpp"

namespace meltlag::compare {
namespace {

class SpotFinder : public motion::WalkSink {
 public:
  SpotFinder(std::span<MeasuredRow const> rows, Spots& out) : rows_(rows), out_(out) {
    out.rows.resize(rows.size());
    found_.resize(rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i)
      if (!by_time(rows[i].kind)) order_.push_back(i);
    std::ranges::stable_sort(order_, {}, [&](std::size_t i) { return rows[i].line; });
  }

  void on_timed_move(motion::TimedMove const& timed) override {
    gcode::Move const& move = timed.move;
    double const length = move.kind == gcode::MoveKind::e_only ? 0 : move.length_mm;
    if (length > 0) head_move(move);
    double const height = layer_height_mm(move);
    purge_lines_.take(move);
    take_rows(timed, length, height);
    out_.way_mm += length;
    if (move.kind == gcode::MoveKind::print) {
      bead_end_s_ = timed.start_s + timed.speed.duration_s();
      in_bead_ = true;
    } else {
      in_bead_ = false;
    }
  }
  void on_halt(gcode::Halt const& halt, double) override {
    if (halt.kind == gcode::HaltKind::wait) ++out_.unknown_waits;
  }
  void finish() {
    end_straight();
    out_.beads = purge_lines_.part();
  }
  [[nodiscard]] bool found(std::size_t row) const { return found_[row]; }

 private:
  // Moves that print nothing belong to their layer as well: an adapted file draws back on the last
  // millimetres of a bead. 0: not known.
  double layer_height_mm(gcode::Move const& move) {
    if (layers_.take(move)) out_.layer_lines.push_back(move.line);
    auto const same_z = [](double a_mm, double b_mm) {
      return std::abs(a_mm - b_mm) <= gcode::same_z_mm;
    };
    bool const level = same_z(move.start_mm.z, move.end_mm.z);
    return level && same_z(move.end_mm.z + move.origin_mm.z, layers_.z_mm()) ? layers_.height_mm()
                                                                             : 0;
  }

  void head_move(gcode::Move const& move) {
    if (!(has_last_ && reading::goes_on(last_, move))) {
      end_straight();
      straight_from_mm_ = out_.way_mm;
    }
    last_ = move;
    has_last_ = true;
  }
  void end_straight() {
    for (std::size_t const i : in_straight_) out_.rows[i].straight_to_mm = out_.way_mm;
    in_straight_.clear();
  }

  // All rows that this line belongs to.
  void take_rows(motion::TimedMove const& timed, double length, double height) {
    if (timed.move.kind == gcode::MoveKind::print && !in_bead_)
      travel_s_ = had_bead() ? timed.start_s - bead_end_s_ : 0;
    std::int64_t const line = timed.move.line;
    for (; next_ < order_.size() && rows_[order_[next_]].line <= line; ++next_)
      open_.push_back(order_[next_]);
    std::erase_if(open_, [&](std::size_t i) {
      if (line > rows_[i].to_line) return true;
      take(i, timed, length, height);
      return false;
    });
  }
  [[nodiscard]] bool had_bead() const { return bead_end_s_ >= 0; }

  void take(std::size_t i, motion::TimedMove const& timed, double length, double height) {
    Spot& spot = out_.rows[i];
    if (!found_[i]) {
      spot.from_mm = out_.way_mm;
      spot.start_s = timed.start_s;
      spot.travel_s = travel_s_;
      spot.straight_from_mm = length > 0 ? straight_from_mm_ : out_.way_mm;
      spot.straight_to_mm = out_.way_mm + length;
      spot.layer_height_mm = height;
      if (length > 0) in_straight_.push_back(i);
    }
    found_[i] = true;
    spot.to_mm = out_.way_mm + length;
    spot.end_s = timed.start_s + timed.speed.duration_s();
  }

  std::span<MeasuredRow const> rows_;
  Spots& out_;
  std::vector<char> found_;
  std::vector<std::size_t> order_, open_, in_straight_;
  std::size_t next_ = 0;
  gcode::Move last_;
  bool has_last_ = false, in_bead_ = false;
  double straight_from_mm_ = 0, bead_end_s_ = -1, travel_s_ = 0;
  gcode::LayerCounter layers_;
  gcode::PurgeLineFinder purge_lines_;
};

void check_row(MeasuredRow const& row, Spot const& spot, motion::Walked const& walked, bool found) {
  if (row.to_line > walked.lines) {
    throw Error(
        fmt::format(
            "line {} is outside of the file, which has {} lines", row.to_line, walked.lines),
        row.place,
        "count lines in the file that was printed");
  }
  if (!found) {
    throw Error(fmt::format("line {} of the file moves nothing", row.line),
                row.place,
                "count lines in the file that was printed");
  }
  double const length = spot.to_mm - spot.from_mm;
  if (row.kind != MeasuredKind::width) return;
  if (length <= 0) {
    throw Error(fmt::format("line {} of the file lays no bead: the head does not move", row.line),
                row.place,
                "count lines in the file that was printed");
  }
  constexpr double slack_mm = 0.01;
  if (row.at_mm && (*row.at_mm < -slack_mm || *row.at_mm > length + slack_mm)) {
    throw Error(fmt::format("at_mm is {:g}, on a move of {:.3f} mm", *row.at_mm, length),
                row.place,
                "at_mm goes from 0 at the line's start to its length");
  }
}

}  // namespace

std::size_t Spots::layer_at(std::int64_t line) const {
  return static_cast<std::size_t>(std::ranges::upper_bound(layer_lines, line) -
                                  layer_lines.begin());
}

Spots find_spots(std::string const& path,
                 std::span<MeasuredRow const> rows,
                 motion::WalkOptions const& options,
                 Notices& notices) {
  Spots spots;
  SpotFinder finder(rows, spots);
  spots.walked = motion::walk(path, options, notices, finder);
  finder.finish();
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (!by_time(rows[i].kind)) check_row(rows[i], spots.rows[i], spots.walked, finder.found(i));
  return spots;
}

}  // namespace meltlag::compare
