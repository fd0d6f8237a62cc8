// SPDX-License-Identifier: MIT
#include "metrics_cells.hpp"

#include <algorithm>

namespace meltlag::judge {
namespace {

constexpr double near_stop_mm = 2.0;
constexpr double string_from_mm = 2.0;
constexpr double barely = 1e-12;
constexpr double border = 1e-9;  // a cell border this close to the end of a piece lies after it

// A stretch of constant acceleration.
struct Phase {
  double duration_s, start_mm_s, end_mm_s, acceleration_mm_s2;
  [[nodiscard]] double length_mm() const { return (start_mm_s + end_mm_s) / 2 * duration_s; }
};

struct Phases {
  Phase of[3];
  explicit Phases(motion::Trapezoid const& t)
      : of{{t.rise_s(), t.entry_mm_s, t.peak_mm_s, t.acceleration_mm_s2},
           {t.cruise_s(), t.peak_mm_s, t.peak_mm_s, 0},
           {t.fall_s(), t.peak_mm_s, t.exit_mm_s, -t.acceleration_mm_s2}} {}
};

// Time to go `way_mm` on: the root of v·t + a·t²/2 = s that does not cancel.
double time_for(Phase const& phase, double way_mm) {
  double const v = phase.start_mm_s;
  double const end = std::sqrt(std::max(0.0, v * v + 2 * phase.acceleration_mm_s2 * way_mm));
  return v + end > 0 ? std::min(phase.duration_s, 2 * way_mm / (v + end)) : phase.duration_s;
}

}  // namespace

CellWalk::CellWalk(melt::PlantParameters const& plant,
                   Side side,
                   RowBook& rows,
                   PrintMetrics& metrics)
    : plant_(plant), side_(side), rows_(rows), metrics_(metrics) {}

double CellWalk::advance(double duration_s, double from_mm3_s, double to_mm3_s) {
  if (!(duration_s > 0)) return 0;
  // The predictor takes an input that starts at nothing into an empty nozzle as none at all.
  bool const from_nothing = from_mm3_s == 0 && plant_.run_on_mm3() == 0;
  double const start_mm3_s = from_nothing ? barely * to_mm3_s : from_mm3_s;
  double const out = plant_.advance({duration_s, start_mm3_s, to_mm3_s});
  metrics_.peak_run_on_mm3 = std::max(metrics_.peak_run_on_mm3, plant_.run_on_mm3());
  return out;
}

// A stretch of time in the present cell.
void CellWalk::fill(double duration_s, double from_mm3_s, double to_mm3_s) {
  cell_.laid.got_mm3 += advance(duration_s, from_mm3_s, to_mm3_s);
  cell_.laid.commanded_mm3 += (from_mm3_s + to_mm3_s) / 2 * duration_s;
  cell_.laid.duration_s += duration_s;
  now_s_ += duration_s;
}

void CellWalk::move(motion::TimedMove const& timed, PathPiece const& piece) {
  double const nozzle_c = timed.move.nozzle_c;
  if (nozzle_c != nozzle_c_ && !std::isnan(nozzle_c)) {
    nozzle_c_ = nozzle_c;
    plant_.set_temperature(nozzle_c);
  }
  if (timed.move.kind == gcode::MoveKind::print && !(metrics_.hottest_c >= nozzle_c))
    metrics_.hottest_c = nozzle_c;
  double const starved = plant_.supply().starved_mm3();
  if (timed.move.kind == gcode::MoveKind::e_only) {
    (piece.purge ? metrics_.uncounted_mm3 : standstill_mm3_) += turn(timed);
  } else {
    lay(timed, piece);
  }
  bool const kept_screw = piece.purge || (piece.kept && piece.cells == 0);
  double const in_vain = plant_.supply().starved_mm3() - starved;
  (kept_screw ? metrics_.starved_kept_mm3 : metrics_.starved_mm3) += in_vain;
  constexpr double told_mm3 = 1e-6;
  if (metrics_.starved_line == 0 && in_vain > told_mm3) metrics_.starved_line = timed.move.line;
  rows_.timed(side_, timed, piece, plant_.run_on_mm3());
}

double CellWalk::turn(motion::TimedMove const& timed) {
  double const per_mm = timed.move.volume_mm3 / timed.speed.length_mm;
  double out = 0;
  for (Phase const& p : Phases(timed.speed).of) {
    out += advance(p.duration_s, per_mm * p.start_mm_s, per_mm * p.end_mm_s);
  }
  return out;
}

void CellWalk::lay(motion::TimedMove const& timed, PathPiece const& piece) {
  double const length = timed.speed.length_mm;
  double const per_mm = timed.move.volume_mm3 / length;
  now_s_ = timed.start_s;
  double const share = piece.to - piece.from;
  auto const end_of = [&](double number) {
    double const place = (number + 1) / piece.cells;
    bool const behind = number + 1 >= piece.cells || share <= 0 || place >= piece.to - border;
    return behind ? std::numeric_limits<double>::infinity() : (place - piece.from) / share * length;
  };
  enter(piece, std::min(piece.cells - 1, std::floor(piece.from * piece.cells + border)));
  double at = 0, next = end_of(cell_.number);
  for (Phase p : Phases(timed.speed).of) {
    double const end = at + p.length_mm();
    while (next < end && p.duration_s > 0) {
      double const way = std::max(0.0, next - at);
      double const t = time_for(p, way);
      double const v = std::max(0.0, p.start_mm_s + p.acceleration_mm_s2 * t);
      fill(t, per_mm * p.start_mm_s, per_mm * v);
      p.start_mm_s = v;
      p.duration_s -= t;
      at = next;
      cell_.laid.run_on_mm3 = plant_.run_on_mm3();
      enter(piece, cell_.number + 1);
      next = end_of(cell_.number);
    }
    fill(p.duration_s, per_mm * p.start_mm_s, per_mm * p.end_mm_s);
    at = end;
  }
  cell_.laid.run_on_mm3 = plant_.run_on_mm3();
}

void CellWalk::halt(gcode::Halt const& halt) {
  if (halt.kind == gcode::HaltKind::dwell) standstill_mm3_ += advance(halt.dwell_s, 0, 0);
  if (halt.kind == gcode::HaltKind::wait) metrics_.uncounted_mm3 += plant_.run_out();
}

void CellWalk::enter(PathPiece const& piece, double number) {
  if (piece.index == cell_.index && number == cell_.number) {
    cell_.laid.got_mm3 += standstill_mm3_;
    standstill_mm3_ = 0;
    return;
  }
  bool const starts_run = piece.starts_run && number == 0;
  if (!piece.prints && cell_.prints) {
    cell_.laid.got_mm3 += standstill_mm3_;
    standstill_mm3_ = 0;
  }
  close(piece.prints && !starts_run);
  if (piece.index != cell_.index) rows_.settle(side_, piece.index);
  cell_ = {piece.index, number, piece.cell_mm, piece.wanted_mm3, piece.prints, starts_run};
  cell_.counts_string = !piece.prints && piece.cell_mm > string_from_mm;
  cell_.laid.start_s = now_s_;
  cell_.laid.got_mm3 = standstill_mm3_;
  standstill_mm3_ = 0;
}

void CellWalk::close(bool goes_on) {
  if (cell_.index < 0) return;
  double const off = cell_.laid.got_mm3 - cell_.wanted_mm3;
  metrics_.misplaced_mm3 += std::abs(off);
  metrics_.wanted_mm3 += cell_.wanted_mm3;
  if (cell_.prints) close_bead(off, goes_on);
  if (cell_.counts_string) count_string();
  rows_.laid(side_, {cell_.index, cell_.number}, cell_.laid);
}

void CellWalk::count_string() {
  double const got = cell_.laid.got_mm3;
  metrics_.string_total_mm3 += got;
  metrics_.string_largest_mm3 = std::max(metrics_.string_largest_mm3, got);
  if (got < string_least_mm3) return;
  ++metrics_.strings;
  metrics_.string_longest_mm = std::max(metrics_.string_longest_mm, cell_.length_mm);
}

void CellWalk::close_bead(double off_mm3, bool goes_on) {
  if (cell_.wanted_mm3 > 0) {
    double const error = off_mm3 / cell_.wanted_mm3;
    metrics_.bead_squares += error * error;
    ++metrics_.bead_cells;
  }
  if (cell_.starts_run) {
    ++metrics_.starts;
    last_mm_.clear();
    last_way_mm_ = gap_mm_ = 0;
    in_gap_ = true;
  }
  last_mm_.push({off_mm3, cell_.length_mm, cell_.wanted_mm3});
  last_way_mm_ += cell_.length_mm;
  while (last_mm_.size() > 1 && last_way_mm_ - last_mm_.front().length_mm >= near_stop_mm) {
    last_way_mm_ -= last_mm_.front().length_mm;
    last_mm_.pop();
  }
  weigh_last();
  if (in_gap_ && cell_.laid.got_mm3 >= cell_.wanted_mm3 / 2) {
    end_gap();
  } else if (in_gap_) {
    gap_mm_ += cell_.length_mm;
  }
  if (!goes_on) end_run();
}

// The bead's error over the last 2 mm.
void CellWalk::weigh_last() {
  if (last_way_mm_ < near_stop_mm) return;
  double excess = 0, wanted = 0;
  for (std::size_t i = 0; i < last_mm_.size(); ++i) {
    excess += last_mm_[i].mm3;
    wanted += last_mm_[i].wanted_mm3;
  }
  if (wanted <= 0 || std::abs(excess) <= std::abs(metrics_.bead_error_largest) * wanted) return;
  metrics_.bead_error_largest = excess / wanted;
}

void CellWalk::end_gap() {
  in_gap_ = false;
  if (gap_mm_ <= 0) return;
  ++metrics_.gaps;
  metrics_.gap_total_mm += gap_mm_;
  cell_.laid.gap_mm = gap_mm_;
  metrics_.gap_largest_mm = std::max(metrics_.gap_largest_mm, gap_mm_);
}

void CellWalk::end_run() {
  if (in_gap_) end_gap();
  ++metrics_.stops;
  double excess = 0;
  for (std::size_t i = 0; i < last_mm_.size(); ++i) excess += last_mm_[i].mm3;
  if (excess <= 0) return;
  ++metrics_.blobs;
  cell_.laid.blob_mm3 = excess;
  metrics_.blob_total_mm3 += excess;
  metrics_.blob_largest_mm3 = std::max(metrics_.blob_largest_mm3, excess);
}

void CellWalk::finish() {
  (cell_.prints ? cell_.laid.got_mm3 : metrics_.uncounted_mm3) += standstill_mm3_;
  standstill_mm3_ = 0;
  close(false);
  cell_ = {};
  rows_.settle(side_, std::numeric_limits<std::int64_t>::max());
  metrics_.run_on_end_mm3 = plant_.run_on_mm3();
}

}  // namespace meltlag::judge
