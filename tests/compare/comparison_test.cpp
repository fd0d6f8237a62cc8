// SPDX-License-Identifier: MIT
#include "meltlag/compare/comparison.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "support/near.hpp"
#include "support/vase.hpp"
#include "synthetic_rows.hpp"

namespace {

using namespace meltlag::compare;
using meltlag::Notices;

constexpr double true_run_on_mm3 = 5;

bool finds(PrintComparison const& comparison, Finding finding) {
  return std::ranges::find(comparison.findings, finding) != comparison.findings.end();
}

PrintComparison compare_walls(Walls const& walls,
                              std::vector<MeasuredRow> const& rows,
                              CompareOptions const& options) {
  ScratchFile const file(walls.text);
  Notices notices;
  return compare(file.path(), "", rows, options, notices);
}

}  // namespace

TEST_SUITE("compare") {
  TEST_CASE("without measuring errors the prediction is what the slow reference measures") {
    Walls const walls = seed_tray_walls(2);
    auto how = plain_calipers();
    how.width_noise_mm = how.place_error_mm = how.width_step_mm = 0;
    auto const rows = measured_widths(walls, hidden_machine(true_run_on_mm3), how);
    CompareOptions options = options_of(true_run_on_mm3);
    options.tools.place_mm = 1e-3;  // whoever stands right needs no mean over wrong places
    PrintComparison const c = compare_walls(walls, rows, options);
    REQUIRE(c.rows.size() == rows.size());
    for (ComparedRow const& row : c.rows) {
      CAPTURE(row.line);
      CAPTURE(row.measured.at_mm.value());
      CHECK_NEAR(row.predicted, row.measured.value, 2e-3);
    }
  }

  TEST_CASE("a person's readings are explained by the lag, without bias") {
    Walls const walls = seed_tray_walls(2);
    for (std::uint64_t const seed : {1u, 2u, 3u}) {
      CAPTURE(seed);
      auto how = plain_calipers();
      how.seed = seed;
      PrintComparison const c =
          compare_walls(walls,
                        measured_widths(walls, hidden_machine(true_run_on_mm3), how),
                        options_of(true_run_on_mm3));
      REQUIRE(c.kinds.size() == 1);
      KindSummary const& k = c.kinds.front();
      INFO("explained " << k.share_explained << " of at most " << k.most_explainable << ", bias "
                        << k.offs.bias << " ± " << k.offs.bias_se << " mm, rms " << k.offs.rms
                        << " of " << k.expected_rms << ", as expected " << k.as_expected << " of "
                        << c.rows.size() << ", run-on × " << c.refit.run_on << " ± "
                        << c.refit.run_on_sd);
      CHECK(k.share_explained >= 0.95);
      CHECK(std::abs(k.offs.bias) <= 2 * k.offs.bias_se);
      CHECK(k.as_expected >= 0.88 * static_cast<double>(c.rows.size()));
      CHECK(c.findings == std::vector<Finding>{Finding::as_expected});
    }
  }

  TEST_CASE("a profile that is wrong by 30 % is reported so, with the number") {
    Walls const walls = seed_tray_walls(2);
    auto const rows = measured_widths(walls, hidden_machine(true_run_on_mm3), plain_calipers());
    for (double const wrong : {0.7, 1.3}) {
      CAPTURE(wrong);
      CompareOptions options = options_of(wrong * true_run_on_mm3);
      options.sd.run_on_mm3 = 0.05 * true_run_on_mm3;
      PrintComparison const c = compare_walls(walls, rows, options);
      INFO("run-on × " << c.refit.run_on << " ± " << c.refit.run_on_sd << ", factor × "
                       << c.refit.delivered_factor);
      CHECK(finds(c, wrong < 1 ? Finding::run_on_larger : Finding::run_on_smaller));
      CHECK_NEAR(wrong * c.refit.run_on, 1, 0.06);
      CHECK_NEAR(c.refit.delivered_factor, 1, 0.02);
    }
  }

  TEST_CASE("a wrong run-on is reported on a part that shows little of it") {
    std::string const part = MELTLAG_SOURCE_DIR "/samples/seed-tray-foot.gcode";
    std::ifstream in(part);
    std::vector<MeasuredRow> rows;
    std::string text;
    for (std::int64_t line = 1; std::getline(in, text) && rows.size() < 90; ++line) {
      std::size_t const e = text.find(" E");
      if (!text.starts_with("G1 X") || e == std::string::npos || std::stod(text.substr(e + 2)) < 2)
        continue;
      for (double const at : {4.0, 12.0, 20.0})
        rows.push_back({.kind = MeasuredKind::width, .line = line, .to_line = line, .at_mm = at});
    }
    REQUIRE(rows.size() == 90);
    CompareOptions options = options_of(6.8);
    Notices notices;
    reference::Dice dice(2);
    PrintComparison const truth = compare(part, "", rows, options, notices);
    for (std::size_t i = 0; i < rows.size(); ++i)
      rows[i].value = truth.rows[i].predicted + 0.05 * dice.normal();
    options = options_of(5);
    options.sd.run_on_mm3 = 0.3;
    PrintComparison const c = compare(part, "", rows, options, notices);
    CHECK(finds(c, Finding::run_on_larger));
    CHECK(std::abs(c.refit.run_on - 1.36) < 2.5 * c.refit.run_on_sd);
  }

  TEST_CASE("a wrong delivered factor is distinguished from a wrong run-on") {
    Walls const walls = seed_tray_walls(2);
    auto hidden = hidden_machine(true_run_on_mm3);
    hidden.plant.delivered_factor = 0.96 * 0.85;
    PrintComparison const c = compare_walls(
        walls, measured_widths(walls, hidden, plain_calipers()), options_of(true_run_on_mm3));
    CHECK(finds(c, Finding::factor_smaller));
    CHECK_FALSE(finds(c, Finding::run_on_smaller));
    CHECK_NEAR(c.refit.delivered_factor, 0.85, 0.02);
    // Everything is thin: the whole print is one stretch of them, or few.
    CHECK(c.worst.front().mean_off < 0);
  }

  TEST_CASE("what the profile leaves open widens what is expected") {
    Walls const walls = seed_tray_walls(1);
    auto const rows = measured_widths(walls, hidden_machine(true_run_on_mm3), plain_calipers());
    CompareOptions options = options_of(true_run_on_mm3);
    PrintComparison const sure = compare_walls(walls, rows, options);
    for (ComparedRow const& row : sure.rows) CHECK(row.profile_sd == 0);
    options.sd.delivered_factor = 0.0096;  // 1 %
    PrintComparison const open = compare_walls(walls, rows, options);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      ComparedRow const& row = open.rows[i];
      CHECK_NEAR(row.profile_sd, 0.01 * std::abs(row.per_factor), 1e-12);
      CHECK(row.expected_sd() >= sure.rows[i].expected_sd());
      // A steady bead's section goes with the factor: w − 0.2146·h does too.
      if (row.stage == Stage::steady && std::abs(row.per_run_on) < 0.01)
        CHECK_NEAR(row.per_factor, row.predicted - 0.214602 * 0.5, 0.03);
    }
  }

  TEST_CASE("masses and flows by line hold the volume that the reference lets out") {
    Walls const walls = seed_tray_walls(1);
    auto const hidden = hidden_machine(true_run_on_mm3);
    reference::HeadMotion const motion = reference::plan_motion(walls.text, printer(), 1.75);
    reference::Print const print = reference::simulate_print(motion, hidden);
    std::vector<MeasuredRow> rows;
    std::vector<double> expected;
    for (std::size_t i = 0; i + 1 < walls.lines.size(); i += 2) {
      std::size_t const a = motion.find(static_cast<std::size_t>(walls.lines[i]));
      std::size_t const b = motion.find(static_cast<std::size_t>(walls.lines[i + 1]));
      double const end = motion.way_mm[b] + motion.program.moves[b].length_mm;
      rows.push_back({.kind = MeasuredKind::mass,
                      .value = 0.1,
                      .line = walls.lines[i],
                      .to_line = walls.lines[i + 1],
                      .at_mm = {}});
      expected.push_back((print.until(end) - print.until(motion.way_mm[a])) * 1.24e-3);
      rows.push_back({.kind = MeasuredKind::line_flow,
                      .value = 3,
                      .line = walls.lines[i + 1],
                      .to_line = walls.lines[i + 1],
                      .at_mm = {}});
      expected.push_back((print.until(end) - print.until(motion.way_mm[b])) /
                         motion.timed[b].duration_s());
    }
    PrintComparison const c = compare_walls(walls, rows, options_of(true_run_on_mm3));
    for (std::size_t i = 0; i < rows.size(); ++i)
      CHECK_CLOSE(c.rows[i].predicted, expected[i], 1e-3);
    CHECK(c.kinds.size() == 2);
  }

  TEST_CASE("a flow record on a clock of its own is explained by the lag, without bias") {
    Walls const walls = seed_tray_walls(2);
    reference::Dice dice(5);
    for (double const offset : {0.0, 137.25}) {
      CAPTURE(offset);
      std::vector<MeasuredRow> rows;
      for (auto const& [t, flow] : flow_record(walls, hidden_machine(true_run_on_mm3), 0.1))
        rows.push_back({.kind = MeasuredKind::flow,
                        .value = flow + 0.2 * dice.normal(),
                        .at_mm = {},
                        .t_s = t - offset});
      CompareOptions const options = options_of(true_run_on_mm3);
      PrintComparison const c = compare_walls(walls, rows, options);
      REQUIRE(c.clock.has_value());
      KindSummary const& k = c.kinds.front();
      INFO("explained " << k.share_explained << ", bias " << k.offs.bias << " ± " << k.offs.bias_se
                        << " mm³/s, clock " << c.clock->offset_s << " ± " << c.clock->sd_s
                        << " s, run-on × " << c.refit.run_on << " ± " << c.refit.run_on_sd);
      CHECK_NEAR(c.clock->offset_s, offset, 0.05);
      CHECK(k.share_explained >= 0.95);
      CHECK(std::abs(k.offs.bias) <= 2 * k.offs.bias_se + 0.02);
      CHECK_NEAR(c.refit.run_on, 1, 0.05);
      // A profile that is wrong by 30 % hides in the clock in part, and is still told.
      CompareOptions wrong = options_of(0.7 * true_run_on_mm3);
      PrintComparison const off = compare_walls(walls, rows, wrong);
      CHECK(finds(off, Finding::run_on_larger));
      CHECK_NEAR(0.7 * off.refit.run_on, 1, 0.08);
    }
  }

  TEST_CASE("a record of something else is not laid to the machine") {
    Walls const walls = seed_tray_walls(2);
    reference::Dice dice(9);
    std::vector<MeasuredRow> rows;
    for (int i = 0; i < 400; ++i)
      rows.push_back({.kind = MeasuredKind::flow,
                      .value = 3 + 2 * dice.normal(),
                      .at_mm = {},
                      .t_s = 5000 + 0.3 * i});
    PrintComparison const c = compare_walls(walls, rows, options_of(true_run_on_mm3));
    CHECK(finds(c, Finding::uneven));
    CHECK(c.clock->correlation < 0.5);
    CHECK(c.kinds.front().share_explained < 0.5);
  }

  TEST_CASE("what is asked for comes from the original, whatever the printed file's screw does") {
    // The adapted file feeds a third more on the first half of a bead and less on the second.
    std::string const original =
        "G90\nM83\nG1 Z0.4 F600\nG0 X0 Y0 F6000\nG1 X40 E8 F1200\nG1 Y40 E8\n";
    std::string const adapted =
        "G90\nM83\nG1 Z0.4 F600\nG0 X0 Y0 F6000\nG1 X20 E5 F1200\nG1 X40 E3\nG1 Y20 E4\nG1 Y40 "
        "E4\n";
    ScratchFile const a(original), b(adapted);
    Notices notices;
    std::vector<MeasuredRow> rows;
    for (std::int64_t line = 5; line <= 8; ++line)
      rows.push_back(
          {.kind = MeasuredKind::width, .value = 1, .line = line, .to_line = line, .at_mm = {}});
    auto const options = options_of(true_run_on_mm3);
    PrintComparison const c = compare(b.path(), a.path(), rows, options, notices);
    double const section = 8 * 2.405281875 / 40;
    for (ComparedRow const& row : c.rows)
      CHECK_NEAR(row.asked, section / 0.4 + 0.2146018366 * 0.4, 1e-6);
    PrintComparison const alone = compare(b.path(), "", rows, options, notices);
    CHECK_NEAR(alone.rows[0].asked, 1.25 * section / 0.4 + 0.2146018366 * 0.4, 1e-6);
    ScratchFile const other("G90\nM83\nG1 Z0.4 F600\nG0 X0 Y0 F6000\nG1 X400 E8 F1200\n");
    CHECK_THROWS_AS((void)compare(b.path(), other.path(), rows, options, notices), meltlag::Error);
  }

  TEST_CASE("a stretch of a spiral wall names its turn") {
    ScratchFile const file(meltlag::testing::spiral_vase());
    Notices notices;
    std::vector<MeasuredRow> rows;
    // A bead in the middle of each turn, off by more from turn to turn.
    for (int turn = 0; turn < 10; ++turn) {
      std::int64_t const line = 5 + 40 * turn + 20;
      rows.push_back({.kind = MeasuredKind::width, .line = line, .to_line = line, .at_mm = 1.0});
    }
    auto options = options_of(true_run_on_mm3);
    options.layer_height_mm = 0.3;
    PrintComparison c = compare(file.path(), "", rows, options, notices);
    for (std::size_t i = 0; i < rows.size(); ++i)
      rows[i].value = c.rows[i].predicted + (i == 9 ? 0.5 : i == 3 ? -0.4 : 0.0);
    c = compare(file.path(), "", rows, options, notices);
    REQUIRE(c.worst.size() >= 2);
    CHECK(c.worst[0].layer == 10);
    CHECK(c.worst[1].layer == 4);
  }

  TEST_CASE("a line that purges before the part does not stretch the part's box") {
    std::string const part = "G1 X0 Y100 F6000\nG1 X40 E8 F1200\nG1 Y130 E6\n";
    ScratchFile const file("G90\nM83\nG1 Z0.4 F600\nG0 X-90 Y0 F6000\nG1 X90 E30 F1200\n" + part +
                           "G1 Z0.8 F600\n" + part);
    Notices notices;
    std::vector<MeasuredRow> rows{
        {.kind = MeasuredKind::width, .value = 1, .line = 7, .to_line = 7, .at_mm = 20.0}};
    auto const c = compare(file.path(), "", rows, options_of(true_run_on_mm3), notices);
    CHECK(c.beads.low_x_mm == 0);
    CHECK(c.beads.low_y_mm == 100);
    CHECK(c.beads.high_x_mm == 40);
    CHECK(c.beads.high_y_mm == 130);
  }

  TEST_CASE("a stretch names its layer, its place and its rows") {
    ScratchFile const file(
        "G90\nM83\nG1 Z0.4 F600\nG0 X0 Y0 F6000\nG1 X40 E8 F1200\nG1 X40 Y30 E6\n"
        "G1 Z0.8 F600\nG0 X0 Y0 F6000\nG1 X40 E8 F1200\n");
    Notices notices;
    std::vector<MeasuredRow> rows;
    auto const add = [&](std::int64_t line, double at) {
      rows.push_back({.kind = MeasuredKind::width, .line = line, .to_line = line, .at_mm = at});
    };
    // The sheet begins with the upper layer.
    for (double const at : {10.0, 20.0, 30.0}) add(9, at);
    for (double const at : {10.0, 20.0, 30.0}) add(5, at);
    add(6, 25);
    auto const options = options_of(true_run_on_mm3);
    PrintComparison c = compare(file.path(), "", rows, options, notices);
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i].value = c.rows[i].predicted - 0.001;
    rows[0].value += 0.5;
    rows[1].value += 0.9;
    c = compare(file.path(), "", rows, options, notices);
    CHECK(in_print_order(c, MeasuredKind::width) == std::vector<std::size_t>{3, 4, 5, 6, 0, 1, 2});
    CHECK(in_print_order(c, MeasuredKind::mass).empty());
    RowStretch const& worst = c.worst.front();
    CHECK(worst.first_row == 4);
    CHECK(worst.rows == 2);
    CHECK(worst.line == 9);
    CHECK(worst.layer == 2);
    CHECK_NEAR(worst.at_mm.x, 20, 1e-9);
    CHECK_NEAR(worst.at_mm.y, 0, 1e-9);
    CHECK_NEAR(worst.mean_off, 0.699, 1e-9);
    CHECK(c.beads.low_x_mm == 0);
    CHECK(c.beads.low_y_mm == 0);
    CHECK(c.beads.high_x_mm == 40);
    CHECK(c.beads.high_y_mm == 30);
    for (RowStretch const& s : c.worst) CHECK(s.layer == (s.first_row < 4 ? 1 : 2));
  }

  TEST_CASE("a bead that climbs all the time begins a layer with each layer's height") {
    std::string text = "G90\nM83\nG1 Z0.4 F600\nG1 X40 E8 F1200\n";
    for (int i = 1; i <= 100; ++i)
      text += "G1 X" + number(i % 2 == 1 ? 0 : 40) + " Z" + number(0.4 + 0.02 * i) + " E8\n";
    ScratchFile const file(text);
    Notices notices;
    std::vector<MeasuredRow> const rows{
        {.kind = MeasuredKind::line_flow, .value = 99, .line = 104, .to_line = 104, .at_mm = {}}};
    PrintComparison const c = compare(file.path(), "", rows, options_of(true_run_on_mm3), notices);
    CHECK(c.worst.front().layer >= 5);
    CHECK(c.worst.front().layer <= 6);
  }

  TEST_CASE("pieces that draw back at a bead's end still belong to its layer") {
    ScratchFile const file(
        "G90\nM83\nG1 Z0.4 F600\nG1 X20 E5 F1200\nG1 X40 E5\nG1 X44 E-0.5\nG1 X46\n");
    Notices notices;
    std::vector<MeasuredRow> rows;
    for (std::int64_t line = 5; line <= 7; ++line)
      rows.push_back(
          {.kind = MeasuredKind::width, .value = 1, .line = line, .to_line = line, .at_mm = {}});
    PrintComparison const c = compare(file.path(), "", rows, options_of(true_run_on_mm3), notices);
    for (ComparedRow const& row : c.rows) CHECK_NEAR(row.layer_height_mm, 0.4, 1e-12);
    CHECK(c.rows[2].predicted > 0);  // it still runs on
  }

  TEST_CASE(
      "starts that stay thin after long travels only are laid to the way, not to the run-on") {
    Walls const walls = seed_tray_walls(3);
    auto how = plain_calipers();
    auto rows = measured_widths(walls, hidden_machine(true_run_on_mm3), how);
    CompareOptions const options = options_of(true_run_on_mm3);
    PrintComparison const before = compare_walls(walls, rows, options);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      ComparedRow const& row = before.rows[i];
      if (row.stage == Stage::building_up && row.travel_s > 2) rows[i].value *= 0.75;
    }
    PrintComparison const c = compare_walls(walls, rows, options);
    CHECK(finds(c, Finding::thin_after_travel));
    CHECK_FALSE(finds(before, Finding::thin_after_travel));
  }

  TEST_CASE("rows that name no place of the file are refused with their place in the sheet") {
    Walls const walls = seed_tray_walls(1);
    auto const refuses = [&](MeasuredRow row, std::string const& text) {
      CAPTURE(text);
      row.value = 1;
      row.to_line = std::max(row.to_line, row.line);
      row.place = {.file = "sheet.csv", .line = 7, .column = 2};
      try {
        (void)compare_walls(walls, {row}, options_of(true_run_on_mm3));
        FAIL("nothing was refused");
      } catch (meltlag::Error const& error) {
        CHECK(std::string(error.what()).find(text) != std::string::npos);
        CHECK(error.where().line == 7);
      }
    };
    refuses({.line = 4, .at_mm = {}}, "moves nothing");
    refuses({.line = 100000, .at_mm = {}}, "outside of the file");
    refuses({.line = 8, .at_mm = {}}, "does not move");  // E alone
    refuses({.line = 9, .at_mm = 99}, "on a move of 30.000 mm");
    refuses({.kind = MeasuredKind::force, .at_mm = {}}, "thrust");
  }
}
