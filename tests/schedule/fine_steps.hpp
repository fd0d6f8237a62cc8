// SPDX-License-Identifier: MIT
// The melt followed in steps of 10 µs with nothing but the differential equation.
#pragma once

#include <cmath>

#include "schedule/drafts.hpp"

namespace meltlag_test {

struct FineOutcome {
  std::vector<double> got_mm3;
  std::vector<double> run_on_mm3;  // at the start of each cut, and at the end
};

// Classical Runge–Kutta for W and for what has left; backlash is not followed.
inline FineOutcome follow_finely(Problem const& problem, std::vector<double> const& rates) {
  FineOutcome result;
  result.got_mm3.assign(problem.wanted_mm3.size(), 0.0);
  double w = problem.start_run_on_mm3;
  for (std::size_t i = 0; i < rates.size(); ++i) {
    Cut const& cut = problem.cuts[i];
    LagLaw const& law = problem.laws[cut.law];
    auto const out = [&](double run_on) {
      if (run_on <= 0) return 0.0;
      return law.at_flow_mm3_s * std::pow(run_on / law.run_on_mm3, 1 / law.flow_index);
    };
    double const gain = filament_mm2 * problem.feed.delivered_factor *
                        (rates[i] < 0 ? problem.feed.reverse_factor : 1) * rates[i];
    result.run_on_mm3.push_back(w);
    for (std::uint32_t j = cut.first_node; j < cut.first_node + cut.nodes; ++j) {
      Node const& node = problem.nodes[j];
      int const steps = static_cast<int>(std::ceil(node.duration_s / 1e-5));
      double const h = node.duration_s / steps;
      double got = 0;
      auto const change = [&](double t, double run_on) {
        double const v = node.start_mm_s + (node.end_mm_s - node.start_mm_s) * t / node.duration_s;
        return gain * v - out(run_on) - problem.leak_per_s * std::max(run_on, 0.0);
      };
      for (int k = 0; k < steps; ++k) {
        double const t = k * h;
        double const k1 = change(t, w), w2 = w + h / 2 * k1;
        double const k2 = change(t + h / 2, w2), w3 = w + h / 2 * k2;
        double const k3 = change(t + h / 2, w3), w4 = w + h * k3;
        double const k4 = change(t + h, w4);
        got += h / 6 * (out(w) + 2 * out(w2) + 2 * out(w3) + out(w4));
        w += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
      }
      if (node.cell != meltlag::schedule::no_cell) result.got_mm3[node.cell] += got;
    }
    if (cut.run_out_after && w > 0) w = 0;
  }
  result.run_on_mm3.push_back(w);
  return result;
}

}  // namespace meltlag_test
