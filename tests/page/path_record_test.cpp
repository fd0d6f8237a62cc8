// SPDX-License-Identifier: MIT
#include "meltlag/page/path_record.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "meltlag/page/path_page.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::page;
using namespace meltlag::report;

namespace {

// Rings of cells in layers, the first cells of each ring late, a blob at its end, a travel between.
class Rings {
 public:
  explicit Rings(PathRecord& record) : record_(record) {}

  void print(int layers, int cells_each) {
    for (int layer = 0; layer < layers; ++layer) {
      z_mm_ = 0.3 * (layer + 1);
      travel({20, 0, z_mm_});
      for (int i = 1; i <= cells_each; ++i) bead(i, cells_each);
    }
  }
  [[nodiscard]] double misplaced_mm3() const { return misplaced_mm3_; }
  [[nodiscard]] double got_mm3() const { return got_mm3_; }
  [[nodiscard]] double time_s() const { return time_s_; }

 private:
  void travel(Vec3 to) {
    judge::CellRow cell;
    cell.kind = gcode::MoveKind::travel;
    send(cell, to, 0.01);
  }
  void bead(int i, int cells_each) {
    double const turn = 2 * 3.14159265358979 * i / cells_each;
    judge::CellRow cell;
    cell.kind = gcode::MoveKind::print;
    cell.starts_run = i == 1;
    cell.wanted_mm3 = 0.1;
    double const got = i <= 3 ? 0.02 : 0.1 + 0.004 * std::sin(0.05 * i);
    if (i == cells_each) cell.after.blob_mm3 = cell.before.blob_mm3 = 0.3;
    send(cell, {20 * std::cos(turn), 20 * std::sin(turn), z_mm_}, got);
  }
  void send(judge::CellRow& cell, Vec3 to, double got_mm3) {
    cell.line = ++line_;
    cell.start_mm = at_mm_;
    cell.end_mm = at_mm_ = to;
    cell.length_mm = norm(cell.end_mm - cell.start_mm);
    cell.before.start_s = cell.after.start_s = time_s_;
    cell.before.duration_s = cell.after.duration_s = 0.01;
    cell.before.got_mm3 = cell.after.got_mm3 = got_mm3;
    time_s_ += 0.01;
    got_mm3_ += got_mm3;
    misplaced_mm3_ += std::abs(got_mm3 - cell.wanted_mm3);
    record_.on_cell(cell);
  }
  PathRecord& record_;
  Vec3 at_mm_;
  double z_mm_ = 0, time_s_ = 0, misplaced_mm3_ = 0, got_mm3_ = 0;
  std::int64_t line_ = 0;
};

}  // namespace

TEST_SUITE("page") {
  TEST_CASE("a record stays within its size and loses no plastic and no time") {
    for (std::size_t const most : {std::size_t{1} << 20, std::size_t{4000}, std::size_t{1000}}) {
      CAPTURE(most);
      PathRecord record(most);
      Rings rings(record);
      rings.print(20, 600);
      record.finish();
      CHECK(record.stretches().size() <= most);
      double got = 0, time = 0, misplaced = 0, blobs = 0;
      for (PathStretch const& s : record.stretches()) {
        got += s.after.got_mm3;
        time += s.after.duration_s;
        blobs += s.after.blob_mm3;
      }
      for (RecordedLayer const& layer : record.layers()) misplaced += layer.misplaced_after_mm3;
      CHECK_CLOSE(got, rings.got_mm3(), 1e-5 /* floats */);
      CHECK_CLOSE(time, rings.time_s(), 1e-5);
      CHECK_NEAR(blobs, 20 * 0.3, 1e-5 /* mm³ */);
      CHECK(record.layers().size() == 20);
      CHECK_NEAR(misplaced, rings.misplaced_mm3() - 0.01, 1e-9 /* mm³; before the first layer */);
      CHECK_NEAR(record.layers()[7].z_mm, 2.4, 1e-9 /* mm */);
      CHECK_NEAR(record.layers()[7].height_mm, 0.3, 1e-9 /* mm */);
    }
  }

  TEST_CASE("what is put together stays near the path") {
    PathRecord record(1000);
    Rings(record).print(20, 600);
    record.finish();
    double worst = 0;
    for (PathStretch const& s : record.stretches()) {
      if (s.kind != PathStretchKind::print) continue;
      worst = std::max(worst, std::abs(std::hypot<double>(s.x_mm, s.y_mm) - 20));
    }
    CHECK(worst < 1e-4 /* mm: ends are ends of cells */);
  }

  TEST_CASE("the worst twenty places are found whatever is put together") {
    PathRecord fine, coarse(800);
    Rings(fine).print(20, 600);
    Rings(coarse).print(20, 600);
    fine.finish();
    coarse.finish();
    REQUIRE(fine.worst().size() == coarse.worst().size());
    CHECK(fine.worst().size() <= 20);
    for (std::size_t i = 0; i < fine.worst().size(); ++i) {
      CHECK(fine.worst()[i].off_mm3 == coarse.worst()[i].off_mm3);
      if (i > 0) {
        CHECK(std::abs(fine.worst()[i].off_mm3) <= std::abs(fine.worst()[i - 1].off_mm3));
      }
    }
    CHECK(fine.worst()[0].kind == WorstPlaceKind::gap);
    // The same start on 20 layers is one place.
    CHECK(fine.worst()[0].times == 20);
    CHECK(fine.worst()[0].first_layer == 0);
    CHECK(fine.worst()[0].last_layer == 19);
    auto const kinds = [&](WorstPlaceKind kind) {
      return std::ranges::count(fine.worst(), kind, &WorstPlace::kind);
    };
    CHECK(kinds(WorstPlaceKind::gap) == 1);
    CHECK(kinds(WorstPlaceKind::blob) <= 1);
    CHECK_NEAR(fine.worst()[0].off_mm3, -0.24, 1e-9 /* mm³: three cells at 0.02 of 0.1 */);
    CHECK_NEAR(fine.worst()[0].gap_mm, 3 * 2 * 20 * std::sin(3.14159265358979 / 600), 1e-6);
  }

  TEST_CASE("a spiral wall has one layer for each turn") {
    PathRecord record;
    Vec3 at_mm{20, 0, 0};
    constexpr int turns = 10, cells = 250;
    for (int i = 1; i <= turns * cells; ++i) {
      double const turn = 2 * 3.14159265358979 * i / cells;
      judge::CellRow cell;
      cell.kind = gcode::MoveKind::print;
      cell.line = 1 + i / 6;
      cell.start_mm = at_mm;
      cell.end_mm = at_mm = {20 * std::cos(turn), 20 * std::sin(turn), 0.15 * i / cells};
      cell.length_mm = norm(cell.end_mm - cell.start_mm);
      cell.wanted_mm3 = cell.before.got_mm3 = cell.after.got_mm3 = 0.1;
      record.on_cell(cell);
    }
    record.finish();
    CHECK(record.layers().size() == turns);
    CHECK_NEAR(record.layers().back().height_mm, 0.15, 2e-3 /* mm */);
  }

  TEST_CASE("a line that purges before the part is none of the worst places") {
    PathRecord record;
    judge::CellRow purge;
    purge.kind = gcode::MoveKind::print;
    purge.line = 1;
    purge.start_mm = {-60, -90, 0.3};
    purge.end_mm = {60, -90, 0.3};
    purge.length_mm = 120;
    purge.wanted_mm3 = 60;
    purge.starts_run = true;
    record.on_cell(purge);
    for (int layer = 1; layer <= 2; ++layer) {
      for (int i = 0; i < 4; ++i) {
        judge::CellRow cell;
        cell.kind = gcode::MoveKind::print;
        cell.line = 4 * layer + i;
        cell.start_mm = {5.0 * i, 0, 0.3 * layer};
        cell.end_mm = {5.0 * i + 5, 10, 0.3 * layer};
        cell.length_mm = 11;
        cell.wanted_mm3 = 5;
        cell.after.got_mm3 = 4;
        cell.starts_run = true;
        record.on_cell(cell);
      }
    }
    record.finish();
    REQUIRE_FALSE(record.worst().empty());
    for (WorstPlace const& place : record.worst()) CHECK(place.line > 1);
    CHECK(record.beads().low_x_mm == 0);
    CHECK(record.beads().low_y_mm == 0);
    CHECK(record.beads().high_x_mm == 20);
    CHECK(record.beads().high_y_mm == 10);
  }

  TEST_CASE("beads that begin late are marked in both files") {
    PathRecord record;
    Rings(record).print(2, 100);
    record.finish();
    double late_mm3 = 0;
    for (PathStretch const& s : record.stretches()) {
      CHECK(s.late_before == s.late_after);
      if (s.late_after) late_mm3 += s.wanted_mm3;
    }
    CHECK_NEAR(late_mm3, 2 * 3 * 0.1, 1e-6 /* mm³ */);
  }

  TEST_CASE("a page of an empty path says so") {
    std::string text;
    Out const out = [&](std::string_view piece) { text += piece; };
    PathRecord record;
    record.finish();
    PathPage page;
    page.command = "predict";
    write_page(out, page, record);
    CHECK(text.find("extrudes nothing") != std::string::npos);
    CHECK(text.rfind("</html>") != std::string::npos);
  }
}
