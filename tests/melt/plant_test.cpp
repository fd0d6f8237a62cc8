// SPDX-License-Identifier: MIT
#include "meltlag/melt/plant.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

PlantParameters with_index(double n) {
  return {.law = {.run_on_mm3 = 3, .at_flow_mm3_s = 5, .flow_index = n},
          .feed = {.slicer_diameter_mm = 1.75}};
}

// Pieces of one sign each, forward most of the time.
CommandedRamp random_piece(std::mt19937_64& random) {
  std::uniform_real_distribution<double> unit(0, 1);
  double const pick = unit(random), duration = 0.005 + 0.2 * unit(random) * unit(random);
  if (pick < 0.1) {
    return {duration, 0, 0};
  }
  double const sign = pick < 0.3 ? -1.0 : 1.0;
  return {duration, sign * 12 * unit(random), sign * 12 * unit(random)};
}

double volume_of(CommandedRamp const& piece) {
  return piece.duration_s * (piece.commanded_start_mm3_s + piece.commanded_end_mm3_s) / 2;
}

}  // namespace

TEST_SUITE("melt") {
  // Derived, exact: 1 − e^(−t/τ).
  TEST_CASE("a Newtonian nozzle answers a step of the screw like a first-order lag") {
    double const expected[] = {0.632121, 0.864665, 0.950213, 0.981684, 0.993262};
    Plant plant(with_index(1));  // τ = 0.6 s
    for (double const share : expected) {
      plant.advance({0.6, 5, 5});
      CHECK_NEAR(plant.flow_mm3_s() / 5, share, 5e-7);
    }
  }

  TEST_CASE("the step response rises from 10 to 90 per cent in 2.197 lags and settles in 3.912") {
    double const t10 = -0.6 * std::log(0.9);
    Plant plant(with_index(1));
    plant.advance({t10, 5, 5});
    CHECK_NEAR(plant.flow_mm3_s(), 0.5, 1e-12);
    plant.advance({2.197225 * 0.6, 5, 5});
    CHECK_NEAR(plant.flow_mm3_s(), 4.5, 1e-6);
    plant.advance({3.912023 * 0.6 - t10 - 2.197225 * 0.6, 5, 5});
    CHECK_NEAR(plant.flow_mm3_s(), 4.9, 1e-6);
  }

  // Derived: P = P0·[1 + (1/n − 1)·t·Q0/(C·P0)]^(−n/(1−n)) for 1 cm³ of melt of 1.2 GPa at 10 MPa,
  // n 0.3, 20 mm³/s.
  TEST_CASE("pressure bleeds down after a stop as the closed form for a power-law nozzle says") {
    double const c = 1000.0 / 1200, s = c * 10;
    struct Row {
      double t_s, p_mpa, q_mm3_s;
    };
    for (Row const& row :
         {Row{0.1, 8.26480, 10.5959}, Row{0.2, 7.24672, 6.83653}, Row{0.5, 5.64315, 2.97008}}) {
      CAPTURE(row.t_s);
      Plant plant({.law = {.run_on_mm3 = s, .at_flow_mm3_s = 20, .flow_index = 0.3},
                   .feed = {.slicer_diameter_mm = 1.75}});
      plant.set_run_on(s);
      double const out = plant.advance({row.t_s, 0, 0});
      CHECK_CLOSE(plant.run_on_mm3() / c, row.p_mpa, 1e-6);
      CHECK_CLOSE(plant.flow_mm3_s(), row.q_mm3_s, 3e-6);
      CHECK_CLOSE(out, s - plant.run_on_mm3(), 1e-14);
      // The same through the integrator: an input too small to matter.
      Plant stepped({.law = {.run_on_mm3 = s, .at_flow_mm3_s = 20, .flow_index = 0.3},
                     .feed = {.slicer_diameter_mm = 1.75}});
      stepped.set_run_on(s);
      stepped.advance({row.t_s, 1e-12, 1e-12});
      CHECK_CLOSE(stepped.run_on_mm3(), plant.run_on_mm3(), 1e-7);
    }
  }

  // For n = 1/2 and a steady input the equation is a Riccati equation: W = W∞·tanh(t·√(u·c)).
  TEST_CASE("a nozzle of index one half fills like a hyperbolic tangent") {
    Plant plant(with_index(0.5));
    double const c = 5.0 / 9, u = 4, full = std::sqrt(u / c);
    double t = 0;
    for (double const piece_s : {0.01, 0.02, 0.1, 0.3, 1.0, 5.0}) {
      plant.advance({piece_s, u, u});
      t += piece_s;
      CHECK_CLOSE(plant.run_on_mm3(), full * std::tanh(t * std::sqrt(u * c)), 1e-7);
    }
  }

  TEST_CASE("one long piece equals many short ones") {
    for (double const n : {0.3, 1.0 / 3, 0.45, 0.5, 0.8, 1.0}) {
      CAPTURE(n);
      Plant whole(with_index(n)), parts(with_index(n));
      double const out_whole = whole.advance({1.5, 2, 9});
      double out_parts = 0;
      for (int i = 0; i < 300; ++i) {
        out_parts += parts.advance({0.005, 2 + 7 * i / 300.0, 2 + 7 * (i + 1) / 300.0});
      }
      CHECK_CLOSE(out_whole, out_parts, 1e-7);
      CHECK_CLOSE(whole.run_on_mm3(), parts.run_on_mm3(), 1e-7);
    }
  }

  TEST_CASE("volume is conserved over ten thousand random pieces") {
    for (double const n : {0.3, 0.5, 1.0, 1.15}) {
      CAPTURE(n);
      std::mt19937_64 random(7);
      Plant plant(with_index(n));
      double fed = 0, out = 0, moved = 0;
      for (int i = 0; i < 10000; ++i) {
        CommandedRamp const piece = random_piece(random);
        fed += volume_of(piece);
        moved += std::abs(volume_of(piece));
        double const left = plant.advance(piece);
        REQUIRE(left >= 0);
        out += left;
      }
      CHECK_NEAR(fed - out, plant.run_on_mm3(), 1e-12 * moved);
      CHECK(moved > 1000);
    }
  }

  TEST_CASE("an empty nozzle lets nothing out until the screw has refilled it") {
    for (double const n : {0.4, 0.5, 1.0}) {
      CAPTURE(n);
      Plant plant(with_index(n));
      plant.set_run_on(0.5);
      double const out = plant.advance({0.5, -4, -4});
      CHECK(out > 0);
      CHECK_NEAR(plant.run_on_mm3(), 0.5 - 2 - out, 1e-12);
      double const hollow = plant.run_on_mm3();
      CHECK(plant.advance({3, 0, 0}) == 0);
      CHECK(plant.run_on_mm3() == hollow);
      CHECK(plant.flow_mm3_s() == 0);
      CHECK(plant.advance({-0.9 * hollow / 2, 2, 2}) == 0);
      CHECK_NEAR(plant.run_on_mm3(), 0.1 * hollow, 1e-12);
      // A ramp that fills the rest and then some: as if it had started full at the very moment.
      double const rest = -plant.run_on_mm3(), full_s = std::sqrt(2 * rest / 10);
      double const late = plant.advance({1, 0, 10});
      Plant twin(with_index(n));
      double const expected = twin.advance({1 - full_s, 10 * full_s, 10});
      CHECK_CLOSE(late, expected, 1e-7);
      CHECK_CLOSE(plant.run_on_mm3(), twin.run_on_mm3(), 1e-7);
    }
  }

  TEST_CASE("a nozzle sucked empty stops flowing at the exact moment") {
    // n = 1, u = −4: W = (W0 + 4τ)·e^(−t/τ) − 4τ is 0 at t = τ·ln(1 + W0/(4τ)).
    Plant plant(with_index(1));
    plant.set_run_on(2);
    double const dry_s = 0.6 * std::log(1 + 2 / 2.4);
    double const out = plant.advance({1, -4, -4});
    CHECK_CLOSE(out, 2 - 4 * dry_s, 1e-12);
    CHECK_CLOSE(plant.run_on_mm3(), -4 * (1 - dry_s), 1e-12);
    // n = 1/2: W = √(4/c)·tan(atan(W0·√(c/4)) − t·√(4·c)).
    Plant square(with_index(0.5));
    square.set_run_on(2);
    double const c = 5.0 / 9;
    double const square_dry_s = std::atan(2 * std::sqrt(c / 4)) / std::sqrt(4 * c);
    constexpr double tolerance_mm3 = 1e-7 * 4;  // of what the screw draws back
    CHECK_NEAR(square.advance({1, -4, -4}), 2 - 4 * square_dry_s, tolerance_mm3);
    CHECK_NEAR(square.run_on_mm3(), -4 * (1 - square_dry_s), tolerance_mm3);
  }

  TEST_CASE("what leaks back is missing at the nozzle") {
    PlantParameters leaky = with_index(1);
    leaky.leak_per_s = 0.5;
    Plant plant(leaky);
    double const rate = 5.0 / 3 + 0.5;  // 1/τ + leak
    double const out = plant.advance({40, 4, 4});
    CHECK_CLOSE(plant.run_on_mm3(), 4 / rate, 1e-12);
    CHECK_CLOSE(out, (160 - 4 / rate) * (5.0 / 3) / rate, 1e-12);
    PlantParameters thin = with_index(0.5);
    thin.leak_per_s = 0.5;
    Plant steady(thin);
    steady.advance({60, 4, 4});
    double const w = steady.run_on_mm3();
    CHECK_CLOSE(5 * w * w / 9 + 0.5 * w, 4, 1e-7);
    CHECK_CLOSE(steady.advance({2, 4, 4}), 2 * 5 * w * w / 9, 1e-7);
  }

  TEST_CASE("delivered and reverse factors scale what the screw brings") {
    PlantParameters parameters = with_index(1);
    parameters.feed.delivered_factor = 0.9;
    parameters.feed.reverse_factor = 0.6;
    Plant plant(parameters);
    double const out = plant.advance({0.5, 2, 6});
    CHECK_NEAR(plant.run_on_mm3() + out, 0.9 * 2, 1e-12);
    double const before = plant.run_on_mm3();
    double const back = plant.advance({0.1, -3, -3});
    CHECK_NEAR(plant.run_on_mm3() + back, before - 0.9 * 0.6 * 0.3, 1e-12);
  }

  TEST_CASE("a wait lets the run-on out and leaves an empty nozzle empty") {
    Plant plant(with_index(0.5));
    plant.set_run_on(2.5);
    CHECK(plant.run_out() == 2.5);
    CHECK(plant.run_on_mm3() == 0);
    plant.set_run_on(-1.5);
    CHECK(plant.run_out() == 0);
    CHECK(plant.run_on_mm3() == -1.5);
  }

  TEST_CASE("a hotter nozzle flows faster at the same run-on") {
    PlantParameters parameters = with_index(0.5);
    parameters.law.at_c = 200;
    parameters.law.activation_kj_mol = 80;
    Plant plant(parameters);
    plant.set_run_on(3);
    plant.set_temperature(225);
    CHECK_CLOSE(plant.flow_mm3_s(), flow_at_run_on(at_temperature(parameters.law, 225), 3), 1e-14);
    CHECK(plant.flow_mm3_s() > 5);
    CHECK(plant.run_on_mm3() == 3);
    plant.set_temperature(std::numeric_limits<double>::quiet_NaN());
    CHECK_CLOSE(plant.flow_mm3_s(), 5, 1e-14);
  }

  TEST_CASE("a cold nozzle costs neither time nor sense") {
    PlantParameters parameters = with_index(0.37);
    parameters.law.at_c = 200;
    parameters.law.activation_kj_mol = 90;
    parameters.leak_per_s = 0.01;
    Plant plant(parameters);
    plant.set_run_on(3);
    plant.set_temperature(0);
    double const out = plant.advance({10, 0, 0});
    CHECK(out < 1e-6);
    CHECK_CLOSE(plant.run_on_mm3(), 3 * std::exp(-0.1), 1e-7);
  }

  TEST_CASE("pieces without duration change nothing") {
    Plant plant(with_index(0.5));
    plant.set_run_on(1);
    CHECK(plant.advance({0, 5, 5}) == 0);
    CHECK(plant.run_on_mm3() == 1);
  }

  TEST_CASE(
      "a screw that starts from rest loses nothing on the way into a barrel without pressure") {
    for (double const n : {1.0, 0.5}) {
      Plant plant(with_index(n));
      double const out = plant.advance({1, 0, 4});
      CHECK_CLOSE(out + plant.run_on_mm3(), 2, 1e-9);  // 1 s at 2 mm³/s on average
      CHECK(plant.run_on_mm3() > 0);
    }
  }
}
