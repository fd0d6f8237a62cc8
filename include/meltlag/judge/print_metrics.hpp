// SPDX-License-Identifier: MIT
// What one file comes to on the path of its original; judge.hpp says how it is counted.
#pragma once

#include <cstdint>
#include <limits>

namespace meltlag::judge {

// One file's figures on the cells of its original (which may be itself).
struct PrintMetrics {
  double wanted_mm3 = 0, misplaced_mm3 = 0;
  double bead_squares = 0;        // Σ (got/wanted − 1)²
  std::int64_t bead_cells = 0;    // over so many printing cells
  double bead_error_largest = 0;  // got/wanted − 1 over 2 mm of bead where it is farthest from 0
  double uncounted_mm3 = 0;       // left in purges and waits, or after the last cell

  std::int64_t stops = 0;  // ends of runs of beads
  std::int64_t blobs = 0;  // those with too much on the last 2 mm
  double blob_total_mm3 = 0, blob_largest_mm3 = 0;
  std::int64_t starts = 0;                      // beginnings of runs of beads
  std::int64_t gaps = 0;                        // those whose bead comes too late
  double gap_total_mm = 0, gap_largest_mm = 0;  // until the first cell with half of what it wants

  std::int64_t strings = 0;  // travels over 2 mm on which at least string_least_mm3 leaves
  double string_total_mm3 = 0, string_largest_mm3 = 0;  // what leaves on travels over 2 mm
  double string_longest_mm = 0;                         // of those travels

  double starved_mm3 = 0;         // turned in vain by moves of the head and their stops
  std::int64_t starved_line = 0;  // of the file, the first that asks for more; 0: none
  double starved_kept_mm3 = 0;    // the same by purge and by kept moves of E alone
  // The print speed up to which all but a thousandth of the beads are fed for long; 0: as fast as
  // the file is.
  double fed_speed_mm_s = 0;

  double hottest_c = std::numeric_limits<double>::quiet_NaN();  // set while beads are laid

  double planned_s = 0;  // dwells count, waits of unknown length do not
  double path_s = 0;     // of the XYZ path alone
  double e_only_s = 0;   // spent in E-only moves
  std::int64_t lines = 0, moves = 0;
  double peak_lines_per_s = 0;    // over any 16 moves in a row
  double peak_forward_mm3_s = 0;  // what the screw delivers at the peak speed of a forward move
  double peak_print_mm3_s = 0;    // the same of moves that print
  double peak_e_mm_s = 0;
  double peak_run_on_mm3 = 0;  // at ends of cells and phases
  double run_on_end_mm3 = 0;

  // Each 0 where there is nothing to share by.
  [[nodiscard]] double misplaced_share() const;
  [[nodiscard]] double bead_error() const;
  [[nodiscard]] double blob_mean_mm3() const;
  [[nodiscard]] double gap_mean_mm() const;
};

}  // namespace meltlag::judge
