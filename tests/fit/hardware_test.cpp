// SPDX-License-Identifier: MIT
#include "meltlag/fit/hardware.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>

#include "measure.hpp"
#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/hardware_piece.hpp"
#include "support/near.hpp"
#include "testpiece/piece_options.hpp"

using namespace meltlag;
namespace ref = meltlag_reference;

namespace {

fit::HardwareSheet read(std::string const& rows, std::optional<double> height_mm = {}) {
  return fit::read_hardware_sheet(
      Sheet::parse("stop,flow_mm3_s,blob_mm,bead_mm,gap_mm,note\n" + rows, "hw.csv"), height_mm);
}

std::string sheet_refusal(std::string const& rows) {
  try {
    (void)read(rows);
  } catch (Error const& error) {
    return error.what();
  }
  return {};
}

// A person with calipers and ruler before what a hidden machine printed.
class Person {
 public:
  Person(testpiece::HardwarePiece const& piece, ref::HeadMotion const& motion, std::uint64_t seed)
      : piece_(piece), motion_(motion), dice_(seed) {}

  std::string fill_in(ref::Print const& print) {
    std::string rows;
    double const w = piece_.bead_width_mm;
    for (testpiece::HardwareBead const& bead : piece_.beads) {
      std::size_t const move = motion_.find(static_cast<std::size_t>(bead.line));
      double const begin = motion_.way_mm[move], end = begin + 30;
      double const steady = (print.until(begin + 25) - print.until(begin + 20)) / 5;
      double const excess =
          print.until(end + reach_mm) - print.until(end - reach_mm) - steady * reach_mm;
      double const bead_mm = width_of(steady) + 0.05 * dice_.normal();
      double const blob_mm =
          std::max(w / 2, blob_of(excess, width_of(steady)) + 0.05 * dice_.normal());
      double const gap_mm = std::max(0.0, gap_of(print, begin) + 0.5 * dice_.normal());
      rows += fmt::format("{},{:.2f},{:.2f},{:.2f},{:.1f},layer 0.300 mm\n",
                          bead.stop,
                          bead.flow_mm3_s,
                          blob_mm,
                          bead_mm,
                          gap_mm);
    }
    return rows;
  }

 private:
  static constexpr double reach_mm = 1;

  [[nodiscard]] double width_of(double section_mm2) const {
    double const h = piece_.layer_height_mm;
    return section_mm2 / h + (1 - std::numbers::pi / 4) * h;
  }
  // The disc that holds so much beside the bead; by halving.
  [[nodiscard]] double blob_of(double excess_mm3, double bead_mm) const {
    double low = bead_mm, high = 20;
    for (int i = 0; i < 60; ++i) {
      double const middle = (low + high) / 2;
      bool const more = fit::blob_mm3({middle, bead_mm, piece_.layer_height_mm}) > excess_mm3;
      (more ? high : low) = middle;
    }
    return low;
  }
  [[nodiscard]] double gap_of(ref::Print const& print, double begin_mm) const {
    for (double at = 0; at < 30; at += 0.1) {
      double const section = (print.until(begin_mm + at + 0.5) - print.until(begin_mm + at)) / 0.5;
      if (width_of(section) >= piece_.bead_width_mm / 2) return at;
    }
    return 30;
  }

  testpiece::HardwarePiece const& piece_;
  ref::HeadMotion const& motion_;
  ref::Dice dice_;
};

// Run-on 5 mm³ and 1.6 mm³ at 5 mm³/s, the same piece, each measured once.
std::array<fit::HardwareSpread, 2> two_machines(double retract_mm) {
  testpiece::HardwarePiece const piece = testpiece::make_hardware_piece(
      {.piece = testpiece::bench_options(), .retract_mm = retract_mm});
  ref::HeadMotion const motion = ref::plan_motion(piece.gcode, {}, 1.75);
  std::array<fit::HardwareSpread, 2> spreads;
  for (std::size_t i = 0; i < 2; ++i) {
    ref::HiddenMachine hidden;
    hidden.plant.run_on_mm3 = i == 0 ? 5 : 1.6;
    hidden.plant.flow_index = 0.6;
    ref::Print const print = ref::simulate_print(motion, hidden);
    spreads[i] = fit::spread_of(read(Person(piece, motion, 7 + i).fill_in(print)));
  }
  return spreads;
}

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE("a blob's volume is the disc less what the bead covers, summed on a fine grid") {
    for (auto const& widths : {std::pair{2.0, 1.0}, std::pair{1.2, 1.1}, std::pair{4.0, 0.8}}) {
      double const blob_mm = widths.first, bead_mm = widths.second;
      CAPTURE(blob_mm);
      double const step = 0.002, r = blob_mm / 2, b = bead_mm / 2;
      double area = 0;
      for (double x = -r + step / 2; x < r; x += step)
        for (double y = -r + step / 2; y < r; y += step) {
          bool const disc = x * x + y * y < r * r;
          bool const bead = x < 0 ? std::abs(y) < b : x * x + y * y < b * b;
          if (disc && !bead) area += step * step;
        }
      CHECK_CLOSE(fit::blob_mm3({blob_mm, bead_mm, 0.3}), 0.3 * area, 2e-3);
      CHECK_NEAR(
          fit::blob_mm3({bead_mm, blob_mm, 0.3}), -fit::blob_mm3({blob_mm, bead_mm, 0.3}), 1e-12);
    }
    CHECK_NEAR(fit::blob_mm3({1, 1, 0.3}), 0, 1e-12);
    CHECK_NEAR(fit::ball_mm(std::numbers::pi / 6), 1, 1e-12);
    CHECK(fit::ball_mm(-0.1) == 0);
  }

  TEST_CASE("mean and scatter of gaps are those of each flow, over all those within the flows") {
    auto const sheet = read("1,4,,,1,\n2,4,,,3,\n3,8,,,7,\n4,8,,,9,\n5,8,,,11,\n6,8,,,,\n");
    fit::HardwareSpread const spread = fit::spread_of(sheet);
    REQUIRE(spread.flows.size() == 2);
    CHECK_NEAR(spread.flows[0].gap_mm.mean, 2, 1e-12);
    CHECK_NEAR(spread.flows[0].gap_mm.sd, std::sqrt(2.0), 1e-12);
    CHECK_NEAR(spread.flows[0].gap_mm.mean_sd, 1, 1e-12);
    CHECK_NEAR(spread.flows[1].gap_mm.mean, 9, 1e-12);
    CHECK_NEAR(spread.flows[1].gap_mm.sd, 2, 1e-12);
    CHECK(spread.gap_mm.count == 5);
    CHECK_NEAR(spread.gap_mm.mean, 5.5, 1e-12);                // of the flows' means
    CHECK_NEAR(spread.gap_mm.sd, std::sqrt(10.0 / 3), 1e-12);  // (2 + 8)/(1 + 2)
    CHECK_NEAR(spread.gap_mm.mean_sd, std::sqrt(10.0 / 3 * (1.0 / 2 + 1.0 / 3)) / 2, 1e-12);
    CHECK(spread.blob_mm3.count == 0);
    auto const values = fit::without_flow(sheet, &fit::HardwareReading::gap_mm);
    REQUIRE(values.size() == 5);
    CHECK_NEAR(values[0], 4.5, 1e-12);
    CHECK_NEAR(values[4], 7.5, 1e-12);
    REQUIRE(sheet.remarks.size() == 1);
    CHECK(sheet.remarks[0] == "hw.csv: 1 of 6 rows were left empty");
  }

  TEST_CASE("the layer height comes from a note, or is given") {
    std::string const rows = "1,4,2.0,1.0,,layer 0.300 mm\n2,4,2.0,1.0,,\n";
    double const volume = fit::blob_mm3({2, 1, 0.3});
    CHECK_NEAR(fit::spread_of(read(rows)).blob_mm3.mean, volume, 1e-12);
    CHECK_NEAR(fit::spread_of(read(rows, 0.6)).blob_mm3.mean, 2 * volume, 1e-12);
  }

  TEST_CASE("what a hardware sheet lacks or says twice is reported with its place") {
    CHECK(sheet_refusal("1,4,2.0,1.0,,\n2,4,2.0,1.0,,\n").find("hw.csv:2:6: no note") == 0);
    CHECK(sheet_refusal("1,4,2.0,,,layer 0.3 mm\n").find("hw.csv:2:4: the bead's width") == 0);
    CHECK(sheet_refusal("1,4,,,1,\n1,4,,,2,\n").find("hw.csv:3:1: stop 1 is given twice") == 0);
    CHECK(sheet_refusal("1,,,,1,\n").find("hw.csv:2:2: the flow is missing") == 0);
    CHECK(sheet_refusal("1,4,0,1,,layer 0.3 mm\n").find("hw.csv:2:3: 0 mm is no width") == 0);
    CHECK(sheet_refusal("1,4,,,-2,\n").find("hw.csv:2:5: -2 mm cannot be right") == 0);
    CHECK(sheet_refusal("1,4,,,,\n2,4,,,1,\n").find("hw.csv: fewer than two") == 0);
  }

  TEST_CASE("sheets of files with other flows or another retract are distinguished") {
    auto const one = read("1,4.02,,,1,\n2,7.98,,,1,\n");
    CHECK(fit::same_file(one, read("1,7.98,,,1,\n2,4.02,,,1,\n")));
    CHECK(!fit::same_file(one, read("1,3.5,,,1,\n2,7.98,,,1,\n")));
    std::string const rows = "1,4.02,,,1,layer 0.3 mm; retract ";
    auto const retracted = read(rows + "1 mm\n2,7.98,,,1,\n");
    CHECK(fit::same_file(one, retracted));
    CHECK(!fit::same_file(read(rows + "0 mm\n2,7.98,,,1,\n"), retracted));
    CHECK(!fit::same_file(one, read("1,4.02,,,1,\n2,4.02,,,1,\n")));
  }

  // A retract takes the rest of the pressure off and its recovery puts it back: then stops tell the
  // machines apart. Without one the blob is drawn out over the travel, and starts tell.
  TEST_CASE("of two hidden machines the one that runs on longer shows larger blobs or gaps") {
    std::array<fit::HardwareSpread, 2> const retracted = two_machines(1);
    CAPTURE(retracted[0].blob_mm3.mean);
    CAPTURE(retracted[1].blob_mm3.mean);
    CHECK(retracted[0].blob_mm3.mean - retracted[1].blob_mm3.mean >
          4 * std::hypot(retracted[0].blob_mm3.mean_sd, retracted[1].blob_mm3.mean_sd));
    std::array<fit::HardwareSpread, 2> const plain = two_machines(0);
    CAPTURE(plain[0].gap_mm.mean);
    CAPTURE(plain[1].gap_mm.mean);
    CHECK(plain[0].gap_mm.mean - plain[1].gap_mm.mean >
          4 * std::hypot(plain[0].gap_mm.mean_sd, plain[1].gap_mm.mean_sd));
  }
}
