// SPDX-License-Identifier: MIT
#include "meltlag/melt/heat_barrier.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "meltlag/base/error.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

constexpr double nothing = 1e-12;  // a conductivity that carries no heat

// Common practice, no source: a barrier tube of stainless steel, 11 mm long, 6 mm inside, 7 mm
// outside.
HeatBarrier slim_tube() {
  return {.steps = {{.length_mm = 11,
                     .inner_mm = 6,
                     .outer_mm = 7,
                     .screw_core_mm = 0,
                     .conductivity_w_m_k = 16}},
          .screw_conductivity_w_m_k = 16,
          .plastic_conductivity_w_m_k = nothing,
          .heat_capacity_j_g_k = 1.8,
          .density_g_cm3 = 1.24,
          .cold_end_c = 45,
          .hot_end_c = 205,
          .softens_c = 165};
}

// A wall of 1 mm² over `length_mm`.
TubeStep layer(double length_mm, double conductivity_w_m_k) {
  double const outer_mm = std::sqrt(25 + 4 / std::numbers::pi);
  return {.length_mm = length_mm,
          .inner_mm = 5,
          .outer_mm = outer_mm,
          .screw_core_mm = 0,
          .conductivity_w_m_k = conductivity_w_m_k};
}

// Conduction and advection on a grid, one temperature in each of many thin cells: the slow truth.
struct Grid {
  std::vector<double> temperature_c;
  double leak_w;
};
Grid solve_on_grid(HeatBarrier const& barrier, double flow_mm3_s, std::size_t per_step) {
  std::vector<double> half;  // resistance of half a cell, K/W
  for (TubeStep const& step : barrier.steps) {
    double const q = std::numbers::pi / 4, i2 = step.inner_mm * step.inner_mm,
                 o2 = step.outer_mm * step.outer_mm, c2 = step.screw_core_mm * step.screw_core_mm;
    double const g = 1e-3 * q *
                     (step.conductivity_w_m_k * (o2 - i2) + barrier.screw_conductivity_w_m_k * c2 +
                      barrier.plastic_conductivity_w_m_k * (i2 - c2));
    for (std::size_t i = 0; i < per_step; ++i)
      half.push_back(step.length_mm / static_cast<double>(per_step) / g / 2);
  }
  double const m = flow_mm3_s * barrier.density_g_cm3 * 1e-3 * barrier.heat_capacity_j_g_k;
  std::size_t const n = half.size();
  std::vector<double> lower(n), diagonal(n), upper(n), right(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    double const west = i == 0 ? 1 / half[0] : 1 / (half[i - 1] + half[i]);
    double const east = i + 1 == n ? 1 / half[i] : 1 / (half[i] + half[i + 1]);
    // Advection with the mean of the neighbours; at the ends the end's own temperature.
    double const from_west = i == 0 ? m : m / 2, to_east = i + 1 == n ? 0 : m / 2;
    lower[i] = -west - from_west;
    upper[i] = -east + (i + 1 == n ? m : m / 2);
    diagonal[i] = west + east + to_east - (i == 0 ? 0 : m / 2);
    if (i == 0) right[i] -= lower[i] * barrier.cold_end_c;
    if (i + 1 == n) right[i] -= upper[i] * barrier.hot_end_c;
  }
  for (std::size_t i = 1; i < n; ++i) {
    double const w = lower[i] / diagonal[i - 1];
    diagonal[i] -= w * upper[i - 1];
    right[i] -= w * right[i - 1];
  }
  std::vector<double> t(n);
  t[n - 1] = right[n - 1] / diagonal[n - 1];
  for (std::size_t i = n - 1; i-- > 0;) t[i] = (right[i] - upper[i] * t[i + 1]) / diagonal[i];
  return {t, (t[0] - barrier.cold_end_c) / half[0]};
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("granules stick where the wall has their temperature, and plug where that is long") {
    HeatBarrier tube = slim_tube();
    CHECK_FALSE(plug_risk(tube, 5));  // not known when they stick
    tube.sticks_c = 60;
    // At rest the composite wall's temperature is linear: 45 … 205 °C over 11 mm.
    PlugRisk const rest = *plug_risk(tube, 0);
    CHECK_NEAR(rest.sticks_at_mm, 11 * (60.0 - 45) / (205 - 45), 1e-9);
    CHECK_NEAR(rest.sticky_mm, 11 * (165.0 - 60) / (205 - 45), 1e-9);
    CHECK(rest.bore_mm == 6);
    CHECK_FALSE(rest.risk);  // 7.2 mm, 1.2 bores
    CHECK(risky_below_mm3_s(tube) == 0);
    // Twice as long a tube holds twice as many of them; a flow pushes the cold towards the hot end.
    tube.steps[0].length_mm = 22;
    CHECK(plug_risk(tube, 0)->risk);
    double const below = risky_below_mm3_s(tube).value();
    CHECK(below > 0);
    CHECK(plug_risk(tube, 0.99 * below)->risk);
    CHECK_FALSE(plug_risk(tube, 1.01 * below)->risk);
    CHECK(plug_risk(tube, below)->sticks_at_mm > plug_risk(tube, 0)->sticks_at_mm);
    // A throat as hot as that sticks at the hopper, whatever the flow.
    tube.sticks_c = 44;
    CHECK(plug_risk(tube, 20)->risk);
    CHECK_FALSE(risky_below_mm3_s(tube));
    CHECK(plug_risk(tube, 20)->sticks_at_mm == 0);
  }

  // By hand: π/4·(49 − 36) = 10.21 mm²; 16 W/(m·K)·10.21e-6 m²/0.011 m·160 K = 2.376 W.
  TEST_CASE("a slim barrier tube leaks what a hand calculation says, and the screw as much again") {
    HeatBarrier tube = slim_tube();
    CHECK_NEAR(areas(tube.steps[0]).wall, 10.21, 0.005 /* mm² */);
    BarrierState const bare = barrier_state(tube, 0);
    CHECK_NEAR(bare.leak_w, 2.376, 0.002 /* W */);
    CHECK_CLOSE(bare.from_hot_end_w, bare.leak_w, 1e-12);
    tube.steps[0].screw_core_mm = 3.6;
    BarrierState const with_core = barrier_state(tube, 0);
    CHECK_NEAR(with_core.core_w / with_core.wall_w, 1.0, 0.01);
    CHECK_CLOSE(with_core.wall_w, bare.leak_w, 1e-9);
    CHECK_CLOSE(with_core.wall_w + with_core.core_w + with_core.plastic_w, with_core.leak_w, 1e-12);
    CHECK(std::abs(*with_core.softens_at_mm - 11 * 0.75) < 1e-9);
  }

  // Holman, Heat Transfer, example 2-1 (from memory): 102 mm of brick (0.7 W/(m·K)) and 38.1 mm of
  // gypsum (0.48) have R 0.145 and 0.079 m²·K/W; 58.4 mm of rock wool (0.065) cut the loss by 80 %.
  TEST_CASE("layers one after the other resist as in the textbook's wall") {
    HeatBarrier wall = slim_tube();
    wall.steps = {layer(102, 0.7), layer(38.1, 0.48)};
    double const bare = barrier_state(wall, 0).leak_w;
    CHECK_CLOSE(160 * 1e-6 / bare, 0.145 + 0.079, 0.005);
    wall.steps.push_back(layer(58.4, 0.065));
    CHECK_CLOSE(barrier_state(wall, 0).leak_w / bare, 0.2, 0.005);
  }

  // The exact solution of one-dimensional convection and diffusion, e.g. Patankar, Numerical Heat
  // Transfer and Fluid Flow, 5.2: (e^(P·x/L) − 1)/(e^P − 1).
  TEST_CASE("moving plastic bends the temperature as the exact exponential") {
    HeatBarrier tube = slim_tube();
    tube.plastic_conductivity_w_m_k = 0.13;
    double const plastic = std::numbers::pi / 4 * 36, wall = std::numbers::pi / 4 * 13;
    double const g = 1e-3 * (16 * wall + 0.13 * plastic);
    for (double const flow : {0.001, 5.0, 50.0, 5000.0, 1e6}) {
      CAPTURE(flow);
      double const m = flow * 1.24e-3 * 1.8, peclet = m * 11 / g;
      BarrierState const state = barrier_state(tube, flow);
      for (BarrierPoint const& point : state.temperatures) {
        double const x = point.at_mm / 11;
        double const share =
            peclet > 500 ? std::exp(peclet * (x - 1)) : std::expm1(peclet * x) / std::expm1(peclet);
        CHECK_NEAR(point.temperature_c, 45 + 160 * share, 1e-6 /* °C */);
      }
      CHECK_CLOSE(state.from_hot_end_w - state.leak_w, m * 160, 1e-9);
    }
  }

  TEST_CASE("stepped tubes agree with conduction and advection on a fine grid") {
    std::mt19937_64 random(11);
    std::uniform_real_distribution<double> u(0, 1);
    for (int round = 0; round < 20; ++round) {
      HeatBarrier tube = slim_tube();
      tube.plastic_conductivity_w_m_k = 0.1 + 0.4 * u(random);
      tube.steps.clear();
      for (int i = 0; i < 3; ++i) {
        double const inner = 5 + 5 * u(random);
        tube.steps.push_back({.length_mm = 2 + 10 * u(random),
                              .inner_mm = inner,
                              .outer_mm = inner + 0.5 + 6 * u(random),
                              .screw_core_mm = 0.7 * inner,
                              .conductivity_w_m_k = 0.3 + 40 * u(random)});
      }
      double const flow = 20 * u(random);
      BarrierState const state = barrier_state(tube, flow);
      Grid const grid = solve_on_grid(tube, flow, 2000);
      CAPTURE(round);
      CHECK_CLOSE(state.leak_w, grid.leak_w, 2e-4);
      // The points lie at multiples of 1/20 of a step: between cells 99 and 100 of each 100.
      for (std::size_t i = 1; i + 1 < state.temperatures.size(); ++i) {
        double const between = (grid.temperature_c[100 * i - 1] + grid.temperature_c[100 * i]) / 2;
        CHECK_NEAR(state.temperatures[i].temperature_c, between, 0.05 /* °C */);
      }
    }
  }

  TEST_CASE("softening is where the temperature is reached, and melt is what comes after it") {
    HeatBarrier tube = slim_tube();
    tube.steps = {layer(4, 1), layer(6, 3)};  // resistances 4 and 2 of 6
    BarrierState const state = barrier_state(tube, 0);
    // 165 °C is 0.75 of the way: 4.5 of 6, a quarter into the second step.
    REQUIRE(state.softens_at_mm);
    CHECK_NEAR(*state.softens_at_mm, 5.5, 1e-6 /* mm */);
    CHECK_NEAR(state.melt_mm3, 4.5 * std::numbers::pi / 4 * 25, 1e-6 /* mm³ */);
    tube.softens_c = 205;
    CHECK_FALSE(barrier_state(tube, 0).softens_at_mm);
    CHECK(barrier_state(tube, 0).melt_mm3 == 0);
    tube.softens_c = 40;
    CHECK_FALSE(barrier_state(tube, 0).softens_at_mm);
    CHECK_NEAR(barrier_state(tube, 0).melt_mm3, 10 * std::numbers::pi / 4 * 25, 1e-9 /* mm³ */);
  }

  TEST_CASE("faster plastic melts later and takes its heat from the leak") {
    HeatBarrier const tube = slim_tube();
    BarrierState const slow = barrier_state(tube, 1), fast = barrier_state(tube, 20);
    CHECK(*fast.softens_at_mm > *slow.softens_at_mm);
    CHECK(fast.leak_w < slow.leak_w);
    CHECK(fast.melt_mm3 < slow.melt_mm3);
  }

  TEST_CASE("deviations of the tube agree with 100,000 draws to 5 %") {
    HeatBarrier tube = slim_tube();
    tube.plastic_conductivity_w_m_k = 0.13;
    Deviations const deviations{{"barrel.tube[0].conductivity_w_m_k", 1.5},
                                {"barrel.tube[0].length_mm", 0.2},
                                {"barrel.hot_end_c", 3},
                                {"barrel.cold_end_c", 4},
                                {"material.softens_c", 6},
                                {"material.flow_index", 0.1}};
    BarrierSpread const spread = barrier_spread(tube, deviations, 5);
    std::mt19937_64 random(3);
    std::normal_distribution<double> normal;
    double sums[3] = {}, squares[3] = {};
    constexpr int draws = 100'000;
    for (int i = 0; i < draws; ++i) {
      HeatBarrier drawn = tube;
      for (auto const& [key, sd] : deviations)
        if (double* const value = find_value(drawn, key)) *value += sd * normal(random);
      BarrierState const state = barrier_state(drawn, 5);
      double const values[3] = {state.leak_w, *state.softens_at_mm, state.melt_mm3};
      for (int j = 0; j < 3; ++j) {
        sums[j] += values[j];
        squares[j] += values[j] * values[j];
      }
    }
    auto const sd = [&](int j) {
      return std::sqrt((squares[j] - sums[j] * sums[j] / draws) / (draws - 1));
    };
    CHECK_CLOSE(spread.leak_w.sd, sd(0), 0.05);
    CHECK_CLOSE(spread.softens_at_mm.sd, sd(1), 0.05);
    CHECK_CLOSE(spread.melt_mm3.sd, sd(2), 0.05);
    CHECK(spread.doubts.front() == "material.softens_c");
  }

  TEST_CASE("conductivities lie within their ranges and have a source") {
    for (Conductor const& conductor : conductors()) {
      CAPTURE(std::string{conductor.name});
      CHECK(conductor.low < conductor.high);
      CHECK(conductor.low <= conductor.w_m_k);
      CHECK(conductor.w_m_k <= conductor.high);
      CHECK_FALSE(conductor.source.empty());
      CHECK(find_conductor(conductor.name) == &conductor);
    }
    CHECK(find_conductor("unobtainium") == nullptr);
  }

  TEST_CASE("an impossible tube is an error that names the key and what to do") {
    struct Row {
      char const* key;
      void (*change)(HeatBarrier&);
    };
    Row const rows[] = {
        {"[barrel] tube", [](HeatBarrier& b) { b.steps.clear(); }},
        {"[barrel] tube[0].outer_mm", [](HeatBarrier& b) { b.steps[0].outer_mm = 6; }},
        {"[barrel] tube[0].screw_core_mm", [](HeatBarrier& b) { b.steps[0].screw_core_mm = 6; }},
        {"[barrel] tube[0].length_mm", [](HeatBarrier& b) { b.steps[0].length_mm = 0; }},
        {"[barrel] hot_end_c", [](HeatBarrier& b) { b.hot_end_c = 45; }},
        {"[material] heat_capacity_j_g_k", [](HeatBarrier& b) { b.heat_capacity_j_g_k = -1; }},
    };
    for (Row const& row : rows) {
      CAPTURE(std::string{row.key});
      HeatBarrier tube = slim_tube();
      row.change(tube);
      try {
        check(tube);
        FAIL_CHECK("no error");
      } catch (meltlag::Error const& error) {
        CHECK(error.where().file == row.key);
        CHECK_FALSE(error.hint().empty());
      }
    }
  }
}
