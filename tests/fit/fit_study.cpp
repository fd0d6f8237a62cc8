// SPDX-License-Identifier: MIT
// The calibration's figures over many hidden machines:
//   fit_study [PLANTS] [LAYERS]
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>

#include "fit/synthetic.hpp"

int main(int count, char** words) {
  int const plants = count > 1 ? std::atoi(words[1]) : 200;
  int const layers = count > 2 ? std::atoi(words[2]) : 20;
  struct Row {
    char const* name;
    synthetic::Trouble trouble;
  };
  for (int const readings : {20, 60}) {
    auto const bench = synthetic::make_bench(synthetic::piece_options(layers), readings);
    for (auto const& one : bench.plan.expected)
      fmt::print("  expected: S {:.2f} at {} ± {:.1f} %, index ± {:.3f}, lag ± {:.1f} %\n",
                 one.run_on_mm3,
                 one.flow_mm3_s,
                 100 * one.run_on_sd_mm3 / one.run_on_mm3,
                 one.flow_index_sd,
                 100 * one.lag_sd_s / one.lag_s);
    for (Row const& row : {Row{"plain", {}},
                           Row{"5 % gross errors", {.outliers = 0.05}},
                           Row{"±8 % pulsation", {.pulse_share = 0.08}}}) {
      auto const start = std::chrono::steady_clock::now();
      synthetic::Errors const e = synthetic::study(bench, plants, row.trouble, 11);
      double const s =
          std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
      auto const share = [&](int covered) { return 100.0 * covered / e.cases; };
      fmt::print(
          "{} readings, {}: median error of run-on {:.1f} %, index {:.3f}, lag {:.1f} %; 95 % "
          "intervals cover {:.1f} %, {:.1f} %, {:.1f} %; scatter/stated {:.2f}, {:.2f}; extras "
          "taken "
          "{} of {}; {:.1f} s\n",
          readings,
          row.name,
          100 * synthetic::Errors::median(e.run_on),
          synthetic::Errors::median(e.index),
          100 * synthetic::Errors::median(e.lag),
          share(e.covered_run_on),
          share(e.covered_index),
          share(e.covered_lag),
          synthetic::Errors::pull(e.run_on_pull),
          synthetic::Errors::pull(e.index_pull),
          e.extras,
          e.cases,
          s);
      std::fflush(stdout);
    }
  }
  return 0;
}
