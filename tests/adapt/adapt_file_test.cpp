// SPDX-License-Identifier: MIT
// What whoever calls the library alone is promised, told by the slow reference from the text.
#include "meltlag/adapt/adapt_file.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "adapt_sample.hpp"
#include "meltlag/adapt/time_table.hpp"
#include "meltlag/base/error.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

struct FromFile {
  adapt::AdaptedFile result;
  std::string text;
};

FromFile adapt_in_library(std::string const& part, adapt::AdaptFileOptions const& options) {
  TemporaryFile const file(part);
  OutputFile draft("-");
  Notices notices;
  FromFile out{adapt::adapt_file(file.path(), options, draft, notices), {}};
  out.text = text_of(draft.temporary_path());
  CHECK(text_of(file.path()) == part);
  return out;
}

// Proved, and not worse than the flow setting, by the reference and by the judgement that came with
// the text.
void check_promise(std::string const& part,
                   FromFile const& adapted,
                   adapt::AdaptOptions const& options,
                   double extra_time = 0) {
  judge::Judgement const& told = adapted.result.judgement;
  CHECK(told.violation_count == 0);
  CHECK_FALSE(told.parting.has_value());
  constexpr double digits = 1e-5;  // of the text
  CHECK(told.after.misplaced_mm3 <= told.flow_set_right.misplaced_mm3 * (1 + digits));
  meltlag_reference::Plant plant = reference_plant(options.plant);
  meltlag_reference::InvariantOptions granted;
  granted.extra_time = extra_time;
  auto list = meltlag_reference::check_invariants(part, adapted.text, plant, {}, granted);
  std::erase_if(list, [](std::string const& text) {
    double is_s = 0, should_s = 0;  // sooner is no broken promise
    char const* const form = "the screw slows the head: %lf s against %lf s";
    return std::sscanf(text.c_str(), form, &is_s, &should_s) == 2 && is_s < should_s;
  });
  CHECK_MESSAGE(list.empty(), all_of(list));
  auto const seen = meltlag_reference::judge(part, adapted.text, plant, {});
  CHECK_NEAR(100 * told.after.misplaced_share(), seen.misplaced_percent, 0.2 /* points */);
}

adapt::AdaptOptions bench(melt::PlantParameters const& plant) { return options_for(plant); }

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("the library alone gives text and judgement that keep the promise") {
    for (double const flow_index : {1.0, 0.5}) {
      for (double const factor : {1.0, 0.91}) {
        CAPTURE(flow_index);
        CAPTURE(factor);
        melt::PlantParameters plant = plant_of(0.3, flow_index);
        plant.feed.delivered_factor = factor;
        std::string const part = bench_part();
        FromFile const adapted = adapt_in_library(part, {.adapt = bench(plant)});
        CHECK(adapted.result.outcome == adapt::Outcome::adapted);
        CHECK(adapted.result.reason.empty());
        CHECK(adapted.text.starts_with(marker));
        check_promise(part, adapted, bench(plant));
        judge::Judgement const& told = adapted.result.judgement;
        CHECK(told.after.misplaced_mm3 < 0.6 * told.flow_set_right.misplaced_mm3);
        CHECK(told.after.planned_s <= told.before.planned_s * 1.001);
      }
    }
  }

  TEST_CASE("where the schedule would gain nothing the library gives the flow setting itself") {
    melt::PlantParameters plant = plant_of(0.3, 1);
    plant.feed.delivered_factor = 0.8;
    plant.supply.max_flow_mm3_s = 3;
    std::string const part = bench_part();
    FromFile const adapted = adapt_in_library(part, {.adapt = bench(plant)});
    CHECK(adapted.result.outcome == adapt::Outcome::flow_set_right);
    CHECK(adapted.result.reason.find("limit the slicer's print speeds to ") != std::string::npos);
    check_promise(part, adapted, bench(plant));
    plant.feed.delivered_factor = 1;
    FromFile const left = adapt_in_library(part, {.adapt = bench(plant)});
    CHECK(left.result.outcome == adapt::Outcome::as_sliced);
    CHECK(left.text == std::string(marker) + "\n" + part);
  }

  TEST_CASE("the library keeps to the time that is granted") {
    auto const plant = plant_of(1.0, 1.0);
    std::string const part = bench_part();
    FromFile const plain = adapt_in_library(part, {.adapt = bench(plant)});
    FromFile const paced =
        adapt_in_library(part, {.adapt = bench(plant), .time = {.extra_share = 0.1}});
    REQUIRE(paced.result.pace.has_value());
    CHECK_FALSE(plain.result.pace.has_value());
    CHECK(paced.result.pace->price_mm3_per_s > 0);
    check_promise(part, paced, bench(plant), 0.1);
    judge::PrintMetrics const& after = paced.result.judgement.after;
    CHECK(after.planned_s > 1.05 * paced.result.judgement.before.planned_s);
    CHECK(after.planned_s <= 1.1 * 1.001 * paced.result.judgement.before.planned_s);
    CHECK(after.misplaced_mm3 < 0.75 * plain.result.judgement.after.misplaced_mm3);
  }

  TEST_CASE("a target that cannot be reached gives no text and says what can") {
    auto const plant = plant_of(1.0, 1.0);
    FromFile const adapted = adapt_in_library(
        bench_part(), {.adapt = bench(plant), .time = {.extra_share = 0.02, .target = 0.001}});
    CHECK(adapted.result.outcome == adapt::Outcome::target_out_of_reach);
    CHECK(adapted.text.empty());
    REQUIRE(adapted.result.pace.has_value());
    CHECK_FALSE(adapted.result.pace->reaches_target());
    CHECK(adapted.result.pace->misplaced_share > 0.001);
    CHECK(adapted.result.pace->misplaced_share < adapted.result.pace->unpaced_share);
  }

  TEST_CASE("the judgement over the lag's uncertainty has the believed lag between its ends") {
    auto const plant = plant_of(0.3, 0.7);
    FromFile const adapted =
        adapt_in_library(bench_part(), {.adapt = bench(plant), .judged_spread = {0.2, 0.05, 0}});
    REQUIRE(adapted.result.over_spread.has_value());
    adapt::SpreadFigures const& over = *adapted.result.over_spread;
    CHECK(over.least < over.mean);
    CHECK(over.mean < over.greatest);
    CHECK(over.greatest > adapted.result.judgement.after.misplaced_share());
  }

  TEST_CASE("a schedule relies on the sure part of the store, the judgement on all of it") {
    melt::PlantParameters plant = plant_of(0.5, 1);
    plant.supply.max_flow_mm3_s = 7;  // less than the fastest beads ask for
    plant.supply.burst_mm3 = 3;
    adapt::AdaptOptions options = bench(plant);
    FromFile const trusting = adapt_in_library(bench_part(), {.adapt = options});
    options.sure_burst_mm3 = 0;
    FromFile const careful = adapt_in_library(bench_part(), {.adapt = options});
    CHECK(trusting.result.info.supply.burst_mm3 == 3);
    CHECK(careful.result.info.supply.burst_mm3 == 0);
    CHECK(careful.result.judgement.supply.burst_mm3 == 3);
    CHECK(careful.text != trusting.text);
    check_promise(bench_part(), careful, options);
  }

  TEST_CASE("an adapted file is refused, and what is no G-code") {
    TemporaryFile const adapted("; adapted by meltlag 0.2 for a test\nG1 X1 E1\n"),
        model("solid cube\n");
    OutputFile draft("-");
    Notices notices;
    adapt::AdaptFileOptions const options{.adapt = bench(plant_of(0.3, 1))};
    CHECK_THROWS_AS((void)adapt::adapt_file(adapted.path(), options, draft, notices), Error);
    CHECK_THROWS_AS((void)adapt::adapt_file(model.path(), options, draft, notices), Error);
  }
}
