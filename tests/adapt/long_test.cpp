// SPDX-License-Identifier: MIT
// Long files are solved on coarser grids and less closely than short ones.
#include <doctest/doctest.h>

#include "adapt_sample.hpp"
#include "support/sanitizers.hpp"

using namespace meltlag;
using namespace meltlag::testing;

TEST_SUITE("adapt") {
  TEST_CASE("a long file keeps every promise and loses less than 0.1 point to its coarser grid") {
    // Errors of memory show in a short one as well.
    constexpr int copies = sanitized ? 2 : 200, long_moves = 10'000;
    std::string const part = bench_part();
    std::string const once = part.substr(0, part.rfind("G1 E"));
    std::string many;
    for (int i = 0; i < copies; ++i) many += once;
    for (double const flow_index : {1.0, 0.5}) {
      CAPTURE(flow_index);
      auto const plant = plant_of(0.3, flow_index);
      judge::Judgement const alone = judge_adapted(once + once, plant);
      judge::Judgement const among = judge_adapted(many, plant);
      CHECK(among.violations.empty());
      CHECK((sanitized || among.before.moves > long_moves));
      CHECK(100 * among.after.misplaced_share() < 100 * alone.after.misplaced_share() + 0.1);
    }
  }
}
