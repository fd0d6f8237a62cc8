// SPDX-License-Identifier: MIT
// Windows that are scheduled side by side: told by the slow reference from the emitted text alone.
#include <doctest/doctest.h>

#include "adapt_sample.hpp"
#include "support/near.hpp"
#include "support/sanitizers.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

// Windows enough for two legs.
std::string many_parts() {
  std::string out;
  constexpr int parts = sanitized ? 4 : 16;
  for (int i = 0; i < parts; ++i) out += bench_part({.x_mm = 0.5 * i, .y_mm = 3.0 * (i % 5)});
  return out;
}

constexpr int small_window = sanitized ? 40 : 150, whole_file = 1'000'000;

std::vector<melt::PlantParameters> machines() {
  std::vector<melt::PlantParameters> out;
  if (!sanitized) out = {plant_of(1.0, 1.0), plant_of(0.3, 0.5)};
  melt::PlantParameters limited = plant_of(0.3, 1.0);
  limited.supply = {.max_flow_mm3_s = 12, .burst_mm3 = 1};
  limited.feed.backlash_mm = 0.03;
  out.push_back(limited);
  return out;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("no byte depends on the number of threads") {
    std::string const part = many_parts();
    for (melt::PlantParameters const& plant : machines()) {
      for (double const price : {0.0, 0.8}) {
        CAPTURE(plant.law.flow_index);
        CAPTURE(price);
        adapt::PassOptions options = options_for(plant);
        options.window_cuts = small_window;
        options.price_mm3_per_s = price;
        options.threads = 1;
        Adapted const alone = adapt_text(part, options);
        REQUIRE(alone.info.windows >= 12);
        options.threads = 3;
        Adapted const other = adapt_text(part, options);
        CHECK(other.text == alone.text);
        CHECK(other.info.misplaced_mm3 == alone.info.misplaced_mm3);
        CHECK(other.info.path_s == alone.info.path_s);
      }
    }
  }

  TEST_CASE("no byte depends on how far batches run ahead of each other") {
    std::string part;
    constexpr int times = sanitized ? 3 : 5;
    for (int i = 0; i < times; ++i) part += many_parts();
    adapt::PassOptions options = options_for(machines().back());
    options.window_cuts = sanitized ? small_window / 2 : small_window;
    options.threads = 1;
    Adapted const alone = adapt_text(part, options);
    REQUIRE(alone.info.windows > 60);  // three batches
    options.threads = 2;
    CHECK(adapt_text(part, options).text == alone.text);
  }

  TEST_CASE("where legs meet nothing is lost, and the sums are those of the text") {
    std::string const part = many_parts();
    for (melt::PlantParameters const& plant : machines()) {
      CAPTURE(plant.law.flow_index);
      adapt::PassOptions options = options_for(plant);
      options.window_cuts = small_window;
      Adapted const legs = adapt_text(part, options);
      options.window_cuts = whole_file;
      Adapted const whole = adapt_text(part, options);
      CHECK(legs.info.windows >= 12);
      CHECK(whole.info.windows == 1);
      auto const judged = [&](Adapted const& adapted) {
        return meltlag_reference::judge(part, adapted.text, reference_plant(plant), {});
      };
      double const together = judged(legs).misplaced_percent;
      CHECK(together < judged(whole).misplaced_percent + 0.1);
      CHECK_NEAR(together, 100 * legs.info.misplaced_mm3 / legs.info.wanted_mm3, 0.2);
      CHECK_CLOSE(judged(legs).planned_s, legs.info.path_s, 1e-3);
      auto const list = broken_promises(part, legs.text, plant);
      CHECK_MESSAGE(list.empty(), all_of(list));
    }
  }
}
