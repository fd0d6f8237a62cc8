// SPDX-License-Identifier: MIT
// From filled cells to figures.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "reference.hpp"

namespace meltlag_reference {
namespace {

constexpr double near_stop_mm = 2.0;
constexpr double long_travel_mm = 2.0;
constexpr double seen_string_mm3 = 0.01;

void figure(Verdict& v) {
  double off = 0, squares = 0;
  std::size_t printing = 0;
  for (const Cell& cell : v.cell_table) {
    off += std::abs(cell.got_mm3 - cell.wanted_mm3);
    v.wanted_mm3 += cell.wanted_mm3;
    v.got_on_path_mm3 += cell.got_mm3;
    if (!cell.prints || cell.wanted_mm3 <= 0) continue;
    const double error = cell.got_mm3 / cell.wanted_mm3 - 1;
    squares += error * error;
    ++printing;
  }
  v.cells = v.cell_table.size();
  if (v.wanted_mm3 > 0) v.misplaced_percent = 100 * off / v.wanted_mm3;
  if (printing > 0) v.bead_error_percent = 100 * std::sqrt(squares / static_cast<double>(printing));
}

// Excess on the last 2 mm before a stop.
double blob_before(const std::vector<Cell>& cells, std::size_t end) {
  double excess = 0, way = 0;
  for (std::size_t k = end; k-- > 0 && way < near_stop_mm;) {
    if (!cells[k].prints) break;
    excess += cells[k].got_mm3 - cells[k].wanted_mm3;
    way += cells[k].length_mm;
    if (cells[k].starts_run) break;
  }
  return excess;
}

double gap_after(const std::vector<Cell>& cells, std::size_t start) {
  double way = 0;
  for (std::size_t k = start; k < cells.size() && cells[k].prints; ++k) {
    if (k > start && cells[k].starts_run) break;
    if (cells[k].got_mm3 >= cells[k].wanted_mm3 / 2) break;
    way += cells[k].length_mm;
  }
  return way;
}

void blobs_and_gaps(Verdict& v) {
  const std::vector<Cell>& cells = v.cell_table;
  double blob_sum = 0, gap_sum = 0;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    if (cells[k].starts_run) {
      const double gap = gap_after(cells, k);
      ++v.starts;
      v.gaps += gap > 0 ? 1 : 0;
      gap_sum += gap;
      v.gap_largest_mm = std::max(v.gap_largest_mm, gap);
    }
    const bool last = k + 1 == cells.size() || !cells[k + 1].prints || cells[k + 1].starts_run;
    const double blob = cells[k].prints && last ? blob_before(cells, k + 1) : 0;
    if (blob <= 0) continue;
    ++v.blobs;
    blob_sum += blob;
    v.blob_largest_mm3 = std::max(v.blob_largest_mm3, blob);
  }
  if (v.blobs > 0) v.blob_mean_mm3 = blob_sum / static_cast<double>(v.blobs);
  if (v.gaps > 0) v.gap_mean_mm = gap_sum / static_cast<double>(v.gaps);
  v.blob_largest_ball_mm = std::cbrt(6 * v.blob_largest_mm3 / std::numbers::pi);
}

void screw_peaks(const Program& program,
                 const std::vector<Timed>& timed,
                 const Plant& plant,
                 Verdict& v) {
  double last_r = 0, last_v = 0;
  for (std::size_t j = 0; j < program.moves.size(); ++j) {
    const Move& move = program.moves[j];
    const double path = timed[j].length_mm;
    const double r = move.e_mm / path;
    const double speed = std::abs(r) * timed[j].v_peak_mm_s;
    v.peak_e_speed_mm_s = std::max(v.peak_e_speed_mm_s, speed);
    if (r > 0) {
      v.peak_flow_mm3_s =
          std::max(v.peak_flow_mm3_s, speed * plant.area_mm2() * plant.delivered_factor);
    }
    v.largest_e_acceleration_mm_s2 =
        std::max(v.largest_e_acceleration_mm_s2, std::abs(r) * timed[j].a_mm_s2);
    const double at = std::min(last_v, timed[j].v_in_mm_s);
    v.largest_e_jump_mm_s = std::max(v.largest_e_jump_mm_s, std::abs(r - last_r) * at);
    last_r = r;
    last_v = timed[j].v_out_mm_s;
  }
}

void stops(const Program& program, const std::vector<Timed>& timed, Verdict& v) {
  std::size_t here = 0;
  for (std::size_t j = 0; j < program.moves.size(); ++j) {
    if (program.moves[j].kind != MoveKind::e_only) {
      here = 0;
      continue;
    }
    v.stops += here == 0 ? 1 : 0;
    v.stop_lines = std::max(v.stop_lines, ++here);
    v.stops_s += timed[j].duration_s();
  }
}

// A travel goes from the end of a bead to the start of the next one.
void strings(Verdict& v) {
  const std::vector<Cell>& cells = v.cell_table;
  for (std::size_t k = 0; k < cells.size();) {
    double way = 0, left = 0;
    for (; k < cells.size() && !cells[k].prints; ++k) {
      way += cells[k].length_mm;
      left += cells[k].got_mm3;
    }
    v.all_travels_mm3 += left;
    if (way > long_travel_mm) {
      v.strings_mm3 += left;
      v.largest_string_mm3 = std::max(v.largest_string_mm3, left);
      if (left >= seen_string_mm3) v.longest_string_mm = std::max(v.longest_string_mm, way);
    }
    while (k < cells.size() && cells[k].prints) ++k;
  }
}

}  // namespace

void fill_figures(const Program& program,
                  const std::vector<Timed>& timed,
                  const Plant& plant,
                  Verdict& v) {
  figure(v);
  blobs_and_gaps(v);
  strings(v);
  stops(program, timed, v);
  screw_peaks(program, timed, plant, v);
}

}  // namespace meltlag_reference
