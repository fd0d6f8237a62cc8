// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "judge/judged_texts.hpp"
#include "meltlag/judge/cell.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

struct Cells : judge::CellSink {
  std::vector<judge::CellRow> list;
  void on_cell(judge::CellRow const& cell) override { list.push_back(cell); }
};
struct CellRows : judge::RowSink {
  std::vector<judge::MoveRow> list;
  void on_row(judge::MoveRow const& row) override { list.push_back(row); }
};

// What the cells of one side add up to.
struct Sums {
  double wanted_mm3 = 0, misplaced_mm3 = 0, blob_mm3 = 0, gap_mm = 0, bead_squares = 0;
};
Sums sums(std::vector<judge::CellRow> const& cells, judge::CellSide judge::CellRow::*side) {
  Sums out;
  for (judge::CellRow const& cell : cells) {
    if (cell.kind == gcode::MoveKind::e_only) continue;
    double const off = (cell.*side).got_mm3 - cell.wanted_mm3;
    out.wanted_mm3 += cell.wanted_mm3;
    out.misplaced_mm3 += std::abs(off);
    out.blob_mm3 += (cell.*side).blob_mm3;
    out.gap_mm += (cell.*side).gap_mm;
    if (cell.wanted_mm3 > 0) out.bead_squares += std::pow(off / cell.wanted_mm3, 2);
  }
  return out;
}

void check_sums(Sums const& sums, judge::PrintMetrics const& figure) {
  CHECK_CLOSE(sums.wanted_mm3, figure.wanted_mm3, 1e-12);
  CHECK_CLOSE(sums.misplaced_mm3, figure.misplaced_mm3, 1e-12);
  CHECK_CLOSE(sums.bead_squares, figure.bead_squares, 1e-12);
  CHECK_NEAR(sums.blob_mm3, figure.blob_total_mm3, 1e-12 /* mm³ */);
  CHECK_NEAR(sums.gap_mm, figure.gap_total_mm, 1e-12 /* mm */);
}

constexpr std::string_view walls =
    "M83\nM104 S205\nG1 E8 F300\nG1 X1 Y1 F3000\n"
    "G1 X21 E1.2 F1800\nG4 P100\nG1 E-1 F1800\nG0 X21 Y11 F4800\nG1 E1 F1800\nG1 X1 E1.2 F1800\n";
constexpr std::string_view walls_adapted =
    "; adapted by meltlag\n"
    "M83\nM104 S205\nG1 E8 F300\nG1 X1 Y1 F3000\n"
    "G1 X11 E0.8 F1800\nG1 X21 E0.25\nG4 P100\nG0 X21 Y11 E0.1 F4800\nG1 X6.2 E0.95 F1800\n"
    "G1 X1 E0.05\n";

}  // namespace

TEST_SUITE("judge") {
  TEST_CASE("what the cells hold adds up to both figures") {
    TemporaryFile const a(walls), b(walls_adapted);
    Notices notices;
    Cells cells;
    auto const judged =
        judge::judge_files(a.path(), b.path(), bench_options(), notices, nullptr, &cells);
    REQUIRE(!judged.parting);
    check_sums(sums(cells.list, &judge::CellRow::before), judged.before);
    check_sums(sums(cells.list, &judge::CellRow::after), judged.after);
    CHECK(judged.before.blobs > 0);
  }

  TEST_CASE("cells lie along the path without holes, in time and place") {
    TemporaryFile const a(walls);
    Notices notices;
    Cells cells;
    CellRows rows;
    judge::PrintMetrics const figure =
        judge::predict(a.path(), bench_options(), notices, &rows, &cells).before;
    check_sums(sums(cells.list, &judge::CellRow::before), figure);
    double halted_s = 0, run_on_mm3 = 0;
    for (std::size_t i = 1; i < cells.list.size(); ++i) {
      judge::CellRow const &last = cells.list[i - 1], &cell = cells.list[i];
      CAPTURE(cell.line);
      CHECK_NEAR(norm(cell.start_mm - last.end_mm), 0, 1e-9 /* mm */);
      double const wait_s = cell.before.start_s - last.before.start_s - last.before.duration_s;
      CHECK(wait_s > -1e-9);
      halted_s += wait_s;
      CHECK(cell.after.got_mm3 == cell.before.got_mm3);
      run_on_mm3 = cell.before.run_on_mm3;
    }
    CHECK_NEAR(halted_s, 0.1, 1e-9 /* s: the dwell */);
    CHECK_NEAR(run_on_mm3, figure.run_on_end_mm3, 1e-9 /* mm³ */);
    double commanded_mm3 = 0, rows_mm3 = 0;
    for (judge::CellRow const& cell : cells.list) commanded_mm3 += cell.before.commanded_mm3;
    for (judge::MoveRow const& row : rows.list) rows_mm3 += row.commanded_before_mm3;
    CHECK_CLOSE(commanded_mm3, rows_mm3, 1e-9);
  }

  TEST_CASE("rows and figures are the same whether or not somebody asks for cells") {
    TemporaryFile const a(walls), b(walls_adapted);
    Notices notices;
    Cells cells;
    CellRows with, without;
    auto const one =
        judge::judge_files(a.path(), b.path(), bench_options(), notices, &with, &cells);
    auto const two = judge::judge_files(a.path(), b.path(), bench_options(), notices, &without);
    CHECK(one.after.misplaced_mm3 == two.after.misplaced_mm3);
    REQUIRE(with.list.size() == without.list.size());
    for (std::size_t i = 0; i < with.list.size(); ++i) {
      CHECK(with.list[i].got_after_mm3 == without.list[i].got_after_mm3);
    }
  }

  TEST_CASE("no cell is sent from where the paths part") {
    std::string parted(walls_adapted);
    parted.replace(parted.find("Y11"), 3, "Y12");
    TemporaryFile const a(walls), b(parted);
    Notices notices;
    Cells cells;
    auto const judged =
        judge::judge_files(a.path(), b.path(), bench_options(), notices, nullptr, &cells);
    REQUIRE(judged.parting);
    for (judge::CellRow const& cell : cells.list) CHECK(cell.line < judged.parting->original_line);
    CHECK(cells.list.size() > 40);
  }

  TEST_CASE("the largest bead error is that of the worst 2 mm") {
    TemporaryFile const a(walls);
    Notices notices;
    Cells cells;
    judge::PrintMetrics const figure =
        judge::predict(a.path(), bench_options(), notices, nullptr, &cells).before;
    double largest = 0;
    std::vector<judge::CellRow> run;
    for (judge::CellRow const& cell : cells.list) {
      if (cell.kind != gcode::MoveKind::print) continue;
      if (cell.starts_run) run.clear();
      run.push_back(cell);
      if (run.size() < 4) continue;  // of 0.5 mm each
      double got = 0, wanted = 0;
      for (std::size_t i = run.size() - 4; i < run.size(); ++i) {
        got += run[i].before.got_mm3;
        wanted += run[i].wanted_mm3;
      }
      if (std::abs(got / wanted - 1) > std::abs(largest)) largest = got / wanted - 1;
    }
    CHECK(std::abs(largest) > 0.05);
    CHECK_NEAR(figure.bead_error_largest, largest, 1e-9);
  }
}
