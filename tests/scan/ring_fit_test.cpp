// SPDX-License-Identifier: MIT
// The lag from widths along the rings; tests/fit/ring_study.cpp does the same for hundreds of
// machines.
#include <doctest/doctest.h>

#include "fit/ring_bench.hpp"
#include "support/near.hpp"

using namespace meltlag;
namespace ref = meltlag_reference;

namespace {

constexpr std::size_t places = 40;  // 0.15 mm apart

// A ring whose bead is 1 mm wide and falls away steadily over its last third, below what is read.
scan::ScanResult ends_in_a_gap() {
  scan::ScanResult result;
  for (std::size_t i = 0; i < places; ++i) {
    auto const along = static_cast<double>(i);
    scan::Width width{.line = 7, .at_mm = 0.15 * along, .way_mm = 0.15 * along, .ring = 1};
    width.prints = true;
    width.width_mm = i < 30 ? 1 : 1 - 0.1 * (along - 29);
    width.sd_mm = 0.02;
    if (width.width_mm < 0.45) width.doubt = scan::Doubt::thin;
    result.widths.push_back(width);
  }
  return result;
}

}  // namespace

TEST_SUITE("scan") {
  TEST_CASE("a row next to a gap stands for the part of it that was read") {
    // 40 places in rows of 3 mm: the second one holds places 21 … 40, of which 35 … 40 are thin.
    Sheet const sheet = Sheet::parse(scan::write_scan_sheet(ends_in_a_gap(), 3), "sheet");
    REQUIRE(sheet.rows() == 2);
    auto const number = [&](std::size_t row, char const* column) {
      return std::stod(std::string(sheet.text(row, column)));
    };
    CHECK_NEAR(number(0, "length_mm"), 3, 1e-6 /*mm*/);
    double const count = 35 - 20;
    CHECK_NEAR(number(1, "length_mm"), 0.15 * count, 1e-6 /*mm*/);
    CHECK_NEAR(number(1, "at_mm"), 0.15 * (20 + 34) / 2, 1e-3 /*mm*/);
    CHECK_NEAR(number(1, "value"), (10 + 0.9 + 0.8 + 0.7 + 0.6 + 0.5) / count, 1e-4 /*mm*/);
  }

  TEST_CASE("widths along the rings tell hidden machines, and ± holds") {
    ring_bench::Bench const bench = ring_bench::make_bench();
    ring_bench::Trouble const trouble{.uneven_mm = 0.05, .wander_share = 0.02, .pulse_share = 0.04};
    for (auto const& machine : {std::pair{0.4, 0.5}, {1.5, 0.7}, {6.0, 0.4}}) {
      double const run_on_mm3 = machine.first, index = machine.second;
      CAPTURE(run_on_mm3);
      ref::Dice dice(static_cast<std::uint64_t>(10 * run_on_mm3));
      synthetic::Truth const truth{run_on_mm3, index, 0.95};
      auto const hidden = ring_bench::hidden_machine(truth, trouble, dice);
      ring_bench::PictureOfWidths picture(bench, {}, dice.bits());
      auto const fit = ring_bench::fit_of(
          bench, picture.take(ring_bench::lay(bench, hidden, trouble, 3)), truth.factor, 2);
      double const off = std::log(fit.run_on_mm3.value / truth.run_on_at(fit.law.at_flow_mm3_s));
      MESSAGE("run-on off by " << 100 * off << " %, index by " << fit.flow_index.value - index);
      double const sd = fit.run_on_mm3.sd / fit.run_on_mm3.value;
      CHECK(std::abs(off) < 3 * sd);
      CHECK(sd < (run_on_mm3 < 1 ? 0.15 : 0.05));
      CHECK(std::abs(off) < (run_on_mm3 < 1 ? 0.15 : 0.06));
      CHECK(std::abs(fit.flow_index.value - index) < 3 * fit.flow_index.sd);
      REQUIRE(fit.dense);
      CHECK(fit.dense->wander_share > 0.01);
      CHECK(fit.dense->wander_share < 0.06);
    }
  }

  TEST_CASE("bursts tell what the screw feeds for long and what store it has, or nothing") {
    ring_bench::Bench const bench = ring_bench::make_bench();
    synthetic::Truth const truth{1.8, 0.6, 1.02};
    auto const told = [&](std::optional<double> max_flow_mm3_s, double burst_mm3) {
      ref::Dice dice(77);
      auto hidden = ring_bench::hidden_machine(truth, {.uneven_mm = 0.05}, dice);
      hidden.plant.max_flow_mm3_s = max_flow_mm3_s;
      hidden.plant.burst_mm3 = burst_mm3;
      ring_bench::PictureOfWidths picture(bench, {}, 5);
      auto const fit =
          ring_bench::fit_of(bench,
                             picture.take(ring_bench::lay(bench, hidden, {.uneven_mm = 0.05}, 3)),
                             truth.factor,
                             2);
      REQUIRE(fit.dense);
      REQUIRE(fit.dense->bursts);
      return *fit.dense->bursts;
    };
    using Store = fit::BurstOutcome::Store;
    CHECK_FALSE(told({}, 0).starves);
    for (double const store_mm3 : {0.0, 1.5}) {
      CAPTURE(store_mm3);
      fit::BurstOutcome const bursts = told(9.8, store_mm3);
      REQUIRE(bursts.starves);
      MESSAGE("max flow " << bursts.max_flow_mm3_s.value << " ± " << bursts.max_flow_mm3_s.sd
                          << ", store " << bursts.low_mm3 << " to " << bursts.high_mm3);
      CHECK_NEAR(bursts.max_flow_mm3_s.value, 9.8, 3 * bursts.max_flow_mm3_s.sd);
      CHECK(bursts.max_flow_mm3_s.sd < 0.2);
      CHECK(bursts.store == (store_mm3 > 0 ? Store::told : Store::none_seen));
      CHECK(bursts.high_mm3 < store_mm3 + 0.3);
      CHECK(bursts.low_mm3 <= store_mm3 + 0.05);
    }
  }

  TEST_CASE("pulsation with the screw's turn is told, and not seen where there is none") {
    double const turn_mm = 30;
    ring_bench::Bench const bench = ring_bench::make_bench(turn_mm);
    synthetic::Truth const truth{2, 0.7, 1};
    for (double const pulse : {0.0, 0.04}) {
      CAPTURE(pulse);
      ref::Dice dice(78);
      auto hidden = ring_bench::hidden_machine(truth, {.pulse_share = pulse}, dice);
      hidden.mm_per_turn = turn_mm;
      ring_bench::PictureOfWidths picture(bench, {}, 6);
      auto const fit = ring_bench::fit_of(
          bench, picture.take(ring_bench::lay(bench, hidden, {}, 4)), truth.factor, 2, turn_mm);
      REQUIRE(fit.dense);
      REQUIRE(fit.dense->pulse);
      fit::TurnPulse const& told = *fit.dense->pulse;
      MESSAGE("pulses by " << told.share.value << " ± " << told.share.sd << ", chance "
                           << told.chance);
      CHECK((told.chance < 0.01) == (pulse > 0));
      if (pulse > 0) CHECK_NEAR(told.share.value, pulse, std::max(0.006, 3 * told.share.sd));
    }
  }
}
