// SPDX-License-Identifier: MIT
// Where the two copies of a side-by-side job should look unlike each other.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <tuple>
#include <vector>

#include "meltlag/judge/cell.hpp"
#include "meltlag/judge/judge.hpp"

namespace meltlag::judge {

enum class Copy : std::uint8_t { none, left, right };

// What a line of the job comes from.
struct JobLine {
  Copy copy = Copy::none;
  std::int32_t layer = 0;  // from 1
  std::int64_t line = 0;   // of the part's file; 0: put in between
};

// A job that prints one part at two places.
struct CopiedJob {
  std::vector<JobLine> lines;  // one for each line of its text
  double offset_mm = 0;        // of the right copy, in X
};

enum class Mark : std::uint8_t {
  blob,        // more than wanted where a bead ends
  thin_start,  // less than wanted where a bead begins
  string,      // plastic on a travel of 5 mm and more
};

// A place of the part, over all layers that show it within 2 mm.
struct Difference {
  Mark mark = Mark::blob;
  double x_mm = 0, y_mm = 0;  // on the left copy
  std::int32_t first_layer = 0, last_layer = 0, layers = 0;
  double left_mm3 = 0, right_mm3 = 0;  // too much (thin_start: missing), a layer
};

// What the two copies misplace, each of what itself wants. Takes the cells of judge_files(job as
// sliced, job adapted).
class CopyMetrics : public CellSink {
 public:
  explicit CopyMetrics(CopiedJob const& job) : job_(job) {}
  void on_cell(CellRow const& cell) override;
  // 0 where nothing is wanted.
  [[nodiscard]] double left_misplaced_share() const { return share(left_); }
  [[nodiscard]] double right_misplaced_share() const { return share(right_); }

 private:
  struct Sums {
    double wanted_mm3 = 0, misplaced_mm3 = 0;
  };
  static double share(Sums const& sums) {
    return sums.wanted_mm3 > 0 ? sums.misplaced_mm3 / sums.wanted_mm3 : 0;
  }

  CopiedJob const& job_;
  Sums left_, right_;
};

// Takes the rows of judge_files(job as sliced, job adapted).
class DifferenceFinder : public RowSink {
 public:
  explicit DifferenceFinder(CopiedJob const& job) : job_(job) {}
  void on_row(MoveRow const& row) override;
  // Those with the most plastic between them first.
  [[nodiscard]] std::vector<Difference> finish(std::size_t most);

 private:
  struct Seen {
    double x_mm = 0, y_mm = 0;
    std::int32_t layer = 0;
    std::optional<double> left_mm3, right_mm3;
  };
  using Key = std::tuple<std::int64_t, Mark>;  // line of the part's file
  void end_bead();
  void note(JobLine const& line, Mark mark, Vec3 const& at_mm, double mm3);

  CopiedJob const& job_;
  std::map<Key, Seen> seen_;
  std::optional<MoveRow> bead_;  // the last row, where it printed
  Vec3 last_end_mm_;
};

}  // namespace meltlag::judge
