// SPDX-License-Identifier: MIT
// What the slicer's own settings reach: said, then applied by hand and judged by the slow
// reference.
#include "meltlag/judge/slicer_settings.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include "adapt_sample.hpp"
#include "support/near.hpp"

using namespace meltlag;
using namespace meltlag::testing;

namespace {

judge::JudgeOptions figures_for(double lag_s, double flow_index) {
  judge::JudgeOptions options = bench_options();
  options.plant = plant_of(lag_s, flow_index);
  options.plant.feed.delivered_factor = 0.91;
  return options;
}

judge::SlicerSettings settings_of(std::string const& part, judge::JudgeOptions const& options) {
  TemporaryFile const file(part);
  return judge::best_slicer_settings(file.path(), options);
}

// What a slicer writes with these settings.
std::string sliced_with(std::string const& part, double flow, double retract_mm, double extra_mm) {
  std::string out;
  for (std::string const& line : lines_of(part)) {
    std::size_t const at = line.find(" E");
    if (!line.starts_with("G1") || at == std::string::npos) {
      out += line + "\n";
      continue;
    }
    std::size_t const end = std::min(line.find(' ', at + 1), line.size());
    double e_mm = flow * std::stod(line.substr(at + 2));
    if (line.starts_with("G1 E")) e_mm = e_mm < 0 ? -retract_mm : retract_mm + extra_mm;
    std::string const word = e_mm == 0 ? "" : fmt::format(" E{:.6f}", e_mm);
    if (e_mm != 0 || !line.starts_with("G1 E"))
      out += line.substr(0, at) + word + line.substr(end) + "\n";
  }
  return out;
}

double reference_percent(std::string const& part,
                         std::string const& emitted,
                         judge::JudgeOptions const& options) {
  return meltlag_reference::judge(part, emitted, reference_plant(options.plant), {})
      .misplaced_percent;
}

}  // namespace

TEST_SUITE("adapt") {
  TEST_CASE("settings that are advised reach the figure that is said, and nothing near is better") {
    std::string const part = bench_part();
    for (auto const& [lag, flow_index] :
         {std::pair{0.3, 1.0}, std::pair{1.0, 1.0}, std::pair{0.6, 0.5}}) {
      double const lag_s = lag;  // CAPTURE takes no structured binding
      CAPTURE(lag_s);
      judge::JudgeOptions const options = figures_for(lag_s, flow_index);
      judge::SlicerSettings const said = settings_of(part, options);
      CHECK_NEAR(said.flow_share, 1 / 0.91, 1e-12);
      CHECK(said.stops == 4);
      CHECK(said.whole);
      CHECK_NEAR(said.now.retract_mm, 1.0, 1e-9);
      CHECK_NEAR(said.now.extra_mm, 0.0, 1e-9);
      CHECK(said.advised.misplaced_mm3 <= said.flow_set_right.misplaced_mm3);
      REQUIRE(said.found);
      auto const with = [&](double retract_mm, double extra_mm) {
        return sliced_with(part, said.flow_share, retract_mm, extra_mm);
      };
      std::string const sliced = with(said.best.retract_mm, said.best.extra_mm);
      judge::PrintMetrics const judged = judge_texts(part, sliced, options).after;
      CHECK_CLOSE(judged.misplaced_mm3, said.advised.misplaced_mm3, 1e-4);
      double const advised = reference_percent(part, sliced, options);
      CHECK_NEAR(advised, 100 * said.advised.misplaced_share(), 0.02);
      double const right = 100 * said.flow_set_right.misplaced_share();
      MESSAGE(fmt::format("lag {} s: flow {:.2f} %, retract {:.2f}, extra {:.2f}: {:.2f} %",
                          lag_s,
                          right,
                          said.best.retract_mm,
                          said.best.extra_mm,
                          advised));
      constexpr double noise = 0.02;  // points
      for (double const retract_mm : {-0.8, -0.2, 0.2, 0.8}) {
        for (double const extra_mm : {-0.1, 0.0, 0.1}) {
          double const r = said.best.retract_mm + retract_mm, x = said.best.extra_mm + extra_mm;
          if (r < 0 || x > 0.4) continue;
          CHECK(reference_percent(part, with(r, x), options) > advised - noise);
        }
      }
    }
  }

  TEST_CASE("a file without retracts has nothing to set but its flow") {
    std::string part;
    for (std::string const& line : lines_of(bench_part()))
      if (!line.starts_with("G1 E")) part += line + "\n";
    judge::SlicerSettings const said = settings_of(part, figures_for(0.3, 1));
    CHECK(said.stops == 0);
    CHECK(!said.found);
    CHECK(said.run_on_mm > 0.5);
    CHECK(said.advised.misplaced_mm3 == said.flow_set_right.misplaced_mm3);
    CHECK(said.flow_set_right.misplaced_mm3 < said.as_sliced.misplaced_mm3);
  }

  TEST_CASE("of a large file the middle is looked at, and it is said which lines") {
    std::string part;
    for (int i = 0; i < 8; ++i) part += bench_part({.x_mm = 0.5 * i});
    TemporaryFile const file(part);
    judge::SlicerSettings const said =
        judge::best_slicer_settings(file.path(), figures_for(1.0, 1), 120);
    CHECK(!said.whole);
    CHECK(said.first_line > 100);
    CHECK(said.last_line > said.first_line + 100);
    CHECK(said.last_line < said.first_line + 140);
    CHECK(said.stops > 4);
    CHECK(said.found);
    CHECK(said.advised.misplaced_mm3 < said.flow_set_right.misplaced_mm3);
  }
}
