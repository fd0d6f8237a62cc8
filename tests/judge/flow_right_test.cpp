// SPDX-License-Identifier: MIT
// What a file asks of the machine, and what stays as written with its flow set right.
#include <doctest/doctest.h>

#include <cmath>

#include "judge/judged_texts.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/judge/survey.hpp"
#include "reference/reference.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

double sustained(std::string_view text) {
  TemporaryFile const file(text);
  judge::JudgeOptions const bench = bench_options();
  return judge::survey(file.path(), {bench.plant, bench.limits}).sustained_flow_mm3_s;
}

}  // namespace

TEST_SUITE("judge") {
  TEST_CASE("lines longer than a second count one second of their flow") {
    // 0.05 mm of E a mm at 20 mm/s, for 10 s; then a short one of the same.
    double const flow = 0.05 * 20 * bench_options().plant.feed.area_mm2();
    CHECK_NEAR(sustained("M83\nM104 S205\nG1 X200 E10 F1200\n"), flow, 1e-9);
    CHECK_NEAR(sustained("M83\nM104 S205\nG1 X200 E10 F1200\nG1 X202 E0.1\n"), flow, 1e-9);
    CHECK_NEAR(
        sustained("M83\nM104 S205\nG1 X200 E10 F1200\nG0 X205\nG1 X206 E0.05\n"), flow, 1e-9);
  }

  TEST_CASE("what gives an unload again stays as written like the unload") {
    constexpr std::string_view text =
        "M83\nM104 S205\nG1 X20 E1 F1200\nG1 E-9 F900\nG0 X25 F4800\nG1 E9 F900\n"
        "G1 X45 E1 F1200\nG1 E-1 F900\nG0 X50 F4800\nG1 E1 F900\nG1 X70 E1 F1200\n";
    judge::JudgeOptions options = bench_options();
    options.plant.feed.delivered_factor = 0.9;
    options.plant.supply.max_flow_mm3_s = 3;
    auto const judged = judge_texts(text, text, options);
    meltlag_reference::Plant plant;
    plant.run_on_mm3 = options.plant.law.run_on_mm3;
    plant.at_flow_mm3_s = options.plant.law.at_flow_mm3_s;
    plant.flow_index = options.plant.law.flow_index;
    plant.delivered_factor = 0.9;
    plant.max_flow_mm3_s = 3;
    auto const files = meltlag_reference::make_case(text, text, plant, {}, 0.005);
    auto const right =
        meltlag_reference::judge_column(files, {}, meltlag_reference::Column::flow_set_right);
    CHECK(right.misplaced_percent > 5);
    CHECK_NEAR(100 * judged.flow_set_right.misplaced_mm3 / judged.flow_set_right.wanted_mm3,
               right.misplaced_percent,
               0.2);
    CHECK_NEAR(judged.flow_set_right.starved_mm3, right.starved_mm3, 0.02);
  }
}
