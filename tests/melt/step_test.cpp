// SPDX-License-Identifier: MIT
// Order of the single steps, against the closed form of dW/dt = u − c·W².
#include "../src/melt/step.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "../src/melt/powers.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

// u = c = 1: W = tanh(t + t0), ∫W = ln cosh.
constexpr double t0 = 0.4;
Equation<FlowLaw<Square>> unit_equation() {
  NozzleFlow const flow({.run_on_mm3 = 1, .at_flow_mm3_s = 1, .flow_index = 0.5});
  return {FlowLaw<Square>(flow, {}), {.start_mm3_s = 1, .slope_mm3_s2 = 0, .duration_s = 1}, 0};
}

struct StepError {
  double w, held, estimate;
};

template <class Method>
StepError error_of(Method method, double h) {
  auto const eq = unit_equation();
  double const w = std::tanh(t0);
  Step const step = method(eq, 0, h, w, eq.rate(0, w));
  return {std::abs(step.w - std::tanh(t0 + h)),
          std::abs(step.held - std::log(std::cosh(t0 + h) / std::cosh(t0))),
          step.error};
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("a Dormand–Prince step is of order five and its estimate of order four") {
    auto const method = dormand_prince_step<FlowLaw<Square>>;
    StepError const wide = error_of(method, 0.1), narrow = error_of(method, 0.05);
    CHECK(std::log2(wide.w / narrow.w) > 5.2);
    CHECK(std::log2(wide.held / narrow.held) > 5);
    CHECK(std::log2(wide.estimate / narrow.estimate) > 4.5);
    CHECK(wide.estimate > wide.w);
    CHECK(wide.w < 1e-7);
  }

  TEST_CASE("an exponential step is of order four and its estimate of order three") {
    auto const method = exponential_step<FlowLaw<Square>>;
    StepError const wide = error_of(method, 0.1), narrow = error_of(method, 0.05);
    CHECK(std::log2(wide.w / narrow.w) > 4.5);
    CHECK(std::log2(wide.held / narrow.held) > 4.5);
    CHECK(std::log2(wide.estimate / narrow.estimate) > 3.5);
    CHECK(wide.estimate > wide.w);
    CHECK(wide.w < 1e-6);
  }

  TEST_CASE("an exponential step follows a ramp far longer than the lag") {
    // Quasi-steady: W² = u − dW/dt with u = 10⁶ + t, so W = √u − 1/(4u) + …
    NozzleFlow const flow({.run_on_mm3 = 1, .at_flow_mm3_s = 1, .flow_index = 0.5});
    Equation<FlowLaw<Square>> const eq{FlowLaw<Square>(flow, {}), {1e6, 1, 10}, 0};
    auto const steady = [](double u) { return std::sqrt(u) - 1 / (4 * u); };
    double const w = steady(1e6);
    Step const step = exponential_step(eq, 0, 10, w, eq.rate(0, w));  // 20,000 lags
    CHECK_CLOSE(step.w, steady(1e6 + 10), 1e-14);
  }

  TEST_CASE("the phi functions equal their series on both sides of the change of method") {
    for (double const z : {-6.0, -1.7, -1.000001, -0.999999, -0.3, -1e-9, 0.0, 0.5}) {
      CAPTURE(z);
      long double sums[6] = {}, term = 1;  // Σ z^j/(j+k)!
      for (int k = 1; k <= 5; ++k) {
        term = 1;
        for (int i = 1; i <= k; ++i) {
          term /= i;
        }
        for (int j = 0; j < 60; ++j) {
          sums[k] += term;
          term *= static_cast<long double>(z) / (j + k + 1);
        }
      }
      Phi const found = phi(z);
      CHECK_CLOSE(found.p1, static_cast<double>(sums[1]), 1e-14);
      CHECK_CLOSE(found.p2, static_cast<double>(sums[2]), 1e-14);
      CHECK_CLOSE(found.p3, static_cast<double>(sums[3]), 1e-14);
      CHECK_CLOSE(found.p4, static_cast<double>(sums[4]), 1e-13);
      CHECK_CLOSE(found.p5, static_cast<double>(sums[5]), 1e-12);
    }
  }
}
