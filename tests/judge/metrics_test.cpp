// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <vector>

#include "judge/judged_texts.hpp"
#include "meltlag/judge/change.hpp"
#include "meltlag/judge/judge.hpp"
#include "reference/reference.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

constexpr double area_mm2 = 2.405281875;  // of 1.75 mm

struct Rows : judge::RowSink {
  std::vector<judge::MoveRow> list;
  void on_row(judge::MoveRow const& row) override { list.push_back(row); }
};

std::string sample_text(std::string const& name) {
  return text_of(std::string(MELTLAG_SOURCE_DIR) + "/samples/" + name);
}

// Two walls with a retract between them; a purge in front.
constexpr std::string_view two_walls =
    "M83\nM104 S205\nG1 E8 F300\nG1 X1 Y1 F3000\n"
    "G1 X21 E1.2 F1800\nG1 E-1 F1800\nG0 X21 Y11 F4800\nG1 E1 F1800\nG1 X1 E1.2 F1800\n";

// The same without the retracts, both walls cut in two, feeding unevenly.
constexpr std::string_view two_walls_adapted =
    "; adapted by meltlag\n"
    "M83\nM104 S205\nG1 E8 F300\nG1 X1 Y1 F3000\n"
    "G1 X11 E0.8 F1800\nG1 X21 E0.25\nG0 X21 Y11 E0.1 F4800\nG1 X6 E0.95 F1800\nG1 X1 E0.05\n";

// The machine of bench_options().
meltlag_reference::Plant bench() {
  meltlag_reference::Plant plant;
  plant.max_flow_mm3_s = 15;
  return plant;
}

void check_like_reference(judge::PrintMetrics const& figure,
                          meltlag_reference::Verdict const& truth) {
  CHECK_NEAR(100 * figure.misplaced_share(), truth.misplaced_percent, 0.02 /* points */);
  CHECK_NEAR(100 * figure.bead_error(), truth.bead_error_percent, 0.05 /* points */);
  CHECK_NEAR(figure.wanted_mm3, truth.wanted_mm3, 1e-6 * truth.wanted_mm3);
  CHECK(figure.blobs == static_cast<std::int64_t>(truth.blobs));
  CHECK_NEAR(figure.blob_mean_mm3(), truth.blob_mean_mm3, 1e-3 /* mm³ */);
  CHECK(figure.starts == static_cast<std::int64_t>(truth.starts));
  CHECK(figure.gaps == static_cast<std::int64_t>(truth.gaps));
  CHECK_NEAR(figure.gap_mean_mm(), truth.gap_mean_mm, 1e-6 /* mm */);
  CHECK_NEAR(figure.planned_s, truth.planned_s, 1e-5 * truth.planned_s);
  CHECK_NEAR(figure.path_s, truth.path_only_s, 1e-5 * truth.path_only_s);
  CHECK_NEAR(figure.run_on_end_mm3, truth.run_on_end_mm3, 1e-3 /* mm³ */);
  CHECK(figure.moves == static_cast<std::int64_t>(truth.moves));
}

}  // namespace

TEST_SUITE("judge") {
  TEST_CASE("figures of the samples agree with the slow reference") {
    for (std::string const name :
         {"seed-tray-foot.gcode", "cable-clip-arcs.gcode", "numbered-absolute.gcode"}) {
      CAPTURE(name);
      std::string const text = sample_text(name);
      REQUIRE(!text.empty());
      check_like_reference(predict_text(text), meltlag_reference::judge(text, text, bench(), {}));
    }
  }

  TEST_CASE("figures for a power-law nozzle agree with the slow reference") {
    std::string const text = sample_text("seed-tray-foot.gcode");
    judge::JudgeOptions options = bench_options();
    options.plant.law.run_on_mm3 = 10;
    options.plant.law.flow_index = 0.5;
    meltlag_reference::Plant plant = bench();
    plant.run_on_mm3 = 10;
    plant.flow_index = 0.5;
    check_like_reference(predict_text(text, options),
                         meltlag_reference::judge(text, text, plant, {}));
  }

  TEST_CASE("an emitted file is judged on the cells of its original") {
    std::string const original(two_walls), emitted(two_walls_adapted);
    judge::Judgement const judged = judge_texts(original, emitted);
    CHECK_FALSE(judged.parting.has_value());
    check_like_reference(judged.before, meltlag_reference::judge(original, original, bench(), {}));
    check_like_reference(judged.after, meltlag_reference::judge(original, emitted, bench(), {}));
  }

  TEST_CASE("all plastic is accounted for: laid, left aside, or still in the barrel") {
    Rows rows;
    judge::PrintMetrics const figure = predict_text(two_walls, bench_options(), &rows);
    double got = 0, commanded = 0;
    for (auto const& row : rows.list) {
      got += row.got_before_mm3;
      commanded += row.commanded_before_mm3;
    }
    CHECK_NEAR(commanded, (8 + 2.4) * area_mm2, 1e-7 /* mm³ */);
    CHECK_NEAR(got + figure.uncounted_mm3 + figure.run_on_end_mm3, commanded, 1e-9 /* mm³ */);
  }

  TEST_CASE("only what leaves during a purge is left aside") {
    judge::PrintMetrics const figure = predict_text(two_walls);
    // 8 mm of E at 5 mm/s is 12 mm³/s into a lag of 0.3 s: most of it leaves during the purge.
    double const purge = 8 * area_mm2;
    CHECK(figure.uncounted_mm3 > purge - 4.0);
    CHECK(figure.uncounted_mm3 < purge - 2.0);
  }

  TEST_CASE("a small restart extra is not a purge") {
    std::string const text = "M83\nG1 X20 E1 F1200\nG1 E-1 F1800\nG0 Y5\nG1 E1.1\nG1 X0 E1 F1200\n";
    Rows rows;
    judge::PrintMetrics const figure = predict_text(text, bench_options(), &rows);
    CHECK(figure.uncounted_mm3 == 0);
    REQUIRE(rows.list.size() == 5);
    CHECK_FALSE(rows.list[3].purge);
  }

  TEST_CASE("a wait of unknown length lets the run-on out uncounted") {
    std::string const text = "M83\nG1 X20 E1 F1200\nM0\n";
    judge::PrintMetrics const figure = predict_text(text);
    CHECK(figure.run_on_end_mm3 == 0);
    CHECK(figure.uncounted_mm3 > 0.5);
  }

  TEST_CASE("what a dwell lets out belongs to the bead that begins after it") {
    constexpr std::string_view walls[] = {"M83\nG1 X20 E1 F1200\nG4 S0\nG1 X0 E1 F1200\n",
                                          "M83\nG1 X20 E1 F1200\nG4 S30\nG1 X0 E1 F1200\n"};
    Rows rows[2];
    for (int i = 0; i < 2; ++i) predict_text(walls[i], bench_options(), &rows[i]);
    auto const &brief = rows[0].list, &waits = rows[1].list;
    REQUIRE(brief.size() == 2);
    REQUIRE(waits.size() == 2);
    CHECK_NEAR(waits[0].got_before_mm3, brief[0].got_before_mm3, 1e-9 /* mm³ */);
    // After 100 lags all of the run-on is out, on top of what the bead gets from an empty nozzle.
    CHECK_NEAR(waits[1].got_before_mm3,
               waits[0].run_on_before_mm3 + waits[0].got_before_mm3,
               1e-9 /* mm³ */);
  }

  TEST_CASE("what a dwell lets out before a travel stays on the bead before it") {
    Rows rows;
    predict_text("M83\nG1 X20 E1 F1200\nG4 S30\nG0 X0\n", bench_options(), &rows);
    REQUIRE(rows.list.size() == 2);
    CHECK_NEAR(rows.list[0].got_before_mm3, area_mm2, 1e-8 /* mm³ */);
    CHECK_NEAR(rows.list[1].got_before_mm3, 0, 1e-8 /* mm³ */);
  }

  TEST_CASE("rows tell what each move was turned into") {
    Rows rows;
    judge_texts(two_walls, two_walls_adapted, bench_options(), &rows);
    using judge::Change;
    std::vector<Change> const expected = {Change::kept,
                                          Change::kept,
                                          Change::steady,  // E taken back at its end, but little
                                          Change::absorbed,
                                          Change::prime,
                                          Change::absorbed,
                                          Change::steady};
    REQUIRE(rows.list.size() == expected.size());
    for (std::size_t i = 0; i < expected.size(); ++i) {
      CAPTURE(i);
      CHECK(change_of(rows.list[i]) == expected[i]);
    }
    CHECK(rows.list[0].purge);
    CHECK(rows.list[2].emitted_first_line == 6);
    CHECK(rows.list[2].emitted_last_line == 7);
    CHECK_NEAR(rows.list[2].e_after_mm, 1.05, 1e-12 /* mm */);
  }

  TEST_CASE("where the paths part is reported with both lines, and no move after it") {
    Rows rows;
    judge::Judgement const judged = judge_texts("M83\nG1 X20 E1\nG1 Y20 E1\nG1 X0 E1\n",
                                                "M83\nG1 X20 E1\nG1 X20.5 Y20 E1\nG1 X0 E1\n",
                                                bench_options(),
                                                &rows);
    REQUIRE(judged.parting.has_value());
    CHECK(judged.parting->original_line == 3);
    CHECK(judged.parting->emitted_line == 3);
    CHECK_NEAR(judged.parting->off_mm, 0.5, 1e-9 /* mm */);
    CHECK(rows.list.size() == 1);
  }

  TEST_CASE("a path that ends early or late parts too") {
    std::string const whole = "M83\nG1 X20 E1\nG1 Y20 E1\n", part = "M83\nG1 X20 E1\n";
    CHECK(judge_texts(whole, part).parting->original_line == 3);
    CHECK(judge_texts(part, whole).parting->emitted_line == 3);
  }

  TEST_CASE("a full circle may be cut into arcs") {
    std::string const original = "M83\nG1 X20 Y10 F1200\nG3 X20 Y10 I-10 J0 E3 F1200\n";
    std::string const emitted =
        "M83\nG1 X20 Y10 F1200\nG3 X10 Y20 I-10 J0 E0.75 F1200\nG3 X10 Y0 I0 J-10 E1.5\n"
        "G3 X20 Y10 I0 J10 E0.75\n";
    judge::Judgement const judged = judge_texts(original, emitted);
    CHECK_FALSE(judged.parting.has_value());
    CHECK_NEAR(judged.after.misplaced_mm3, judged.before.misplaced_mm3, 1e-6 /* mm³ */);
  }

  TEST_CASE("a file that extrudes nothing has no share to tell") {
    judge::PrintMetrics const figure = predict_text("G1 X10\n; nothing\n");
    CHECK(figure.misplaced_share() == 0);
    CHECK(figure.bead_error() == 0);
    CHECK(figure.lines == 2);
  }
}
