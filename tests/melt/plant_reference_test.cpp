// SPDX-License-Identifier: MIT
// The predictor against integrators of the GNU Scientific Library, which share no code with it.
#include <doctest/doctest.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_matrix.h>
#include <gsl/gsl_odeiv2.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>

#include "meltlag/melt/plant.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

namespace {

struct System {
  LagLaw law;
  double leak_per_s;
  double u0 = 0, slope = 0;
};

// y = (run-on, what has left the nozzle)
int rates(double t, double const y[], double f[], void* p) {
  System const& s = *static_cast<System const*>(p);
  double const q = flow_at_run_on(s.law, y[0]);
  f[0] = s.u0 + s.slope * t - q - s.leak_per_s * std::max(0.0, y[0]);
  f[1] = q;
  return GSL_SUCCESS;
}

int jacobian(double, double const y[], double* dfdy, double dfdt[], void* p) {
  System const& s = *static_cast<System const*>(p);
  double const dq = y[0] > 0 ? flow_at_run_on(s.law, y[0]) / (s.law.flow_index * y[0]) : 0;
  std::fill_n(dfdy, 4, 0.0);
  dfdy[0] = -dq - (y[0] > 0 ? s.leak_per_s : 0);
  dfdy[2] = dq;
  dfdt[0] = s.slope;
  dfdt[1] = 0;
  return GSL_SUCCESS;
}

struct Truth {
  gsl_odeiv2_step_type const* method;
  double tolerance;
  System system;
  std::array<double, 2> y{};

  void advance(CommandedRamp const& piece) {
    system.u0 = piece.commanded_start_mm3_s;
    system.slope = (piece.commanded_end_mm3_s - system.u0) / piece.duration_s;
    gsl_odeiv2_system gsl{rates, jacobian, 2, &system};
    gsl_odeiv2_driver* driver =
        gsl_odeiv2_driver_alloc_y_new(&gsl, method, 1e-3 * piece.duration_s, tolerance, tolerance);
    double t = 0;
    REQUIRE(gsl_odeiv2_driver_apply(driver, &t, piece.duration_s, y.data()) == GSL_SUCCESS);
    gsl_odeiv2_driver_free(driver);
  }
};

struct Agreement {
  double run_on = 0, out = 0;  // largest differences, mm³
  double volume = 0;           // moved by the screw
  double lowest = 1e300;
};

Agreement follow(System const& system, Truth truth, std::mt19937_64& random, int pieces) {
  std::uniform_real_distribution<double> unit(0, 1);
  truth.system = system;
  Plant plant(
      {.law = system.law, .feed = {.slicer_diameter_mm = 1.75}, .leak_per_s = system.leak_per_s});
  Agreement result;
  double out = 0;
  for (int i = 0; i < pieces; ++i) {
    double const t = 0.005 + 0.3 * std::pow(unit(random), 3);
    double const pick = unit(random), sign = pick < 0.15 ? -1 : pick < 0.25 ? 0 : 1;
    CommandedRamp const piece{t, sign * 12 * unit(random), sign * 12 * unit(random)};
    out += plant.advance(piece);
    truth.advance(piece);
    result.volume += t * std::abs(piece.commanded_start_mm3_s + piece.commanded_end_mm3_s) / 2;
    result.run_on = std::max(result.run_on, std::abs(plant.run_on_mm3() - truth.y[0]));
    result.out = std::max(result.out, std::abs(out - truth.y[1]));
    result.lowest = std::min(result.lowest, plant.run_on_mm3());
  }
  return result;
}

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("random strokes agree with an eighth-order reference integrator") {
    std::mt19937_64 random(2024);
    std::uniform_real_distribution<double> unit(0, 1);
    int emptied = 0;
    for (int machine = 0; machine < 40; ++machine) {
      double const n = machine % 5 == 0 ? 0.5 : machine % 5 == 1 ? 1 : 0.3 + 0.7 * unit(random);
      double const lag = 0.05 * std::pow(20, unit(random));
      System const system{.law = {.run_on_mm3 = 5 * lag / n, .at_flow_mm3_s = 5, .flow_index = n},
                          .leak_per_s = machine % 2 == 0 ? 0 : 0.2 * unit(random)};
      CAPTURE(n);
      CAPTURE(lag);
      CAPTURE(system.leak_per_s);
      Agreement const found = follow(system, {gsl_odeiv2_step_rk8pd, 1e-11, system}, random, 150);
      CHECK(found.run_on < 1e-6);
      CHECK(found.out < 1e-6 * found.volume);
      emptied += found.lowest < 0 ? 1 : 0;
    }
    CHECK(emptied > 10);
  }

  TEST_CASE("lags far shorter than a piece agree with a stiff reference integrator") {
    std::mt19937_64 random(77);
    for (double const n : {0.3, 0.5, 0.72, 1.0}) {
      for (double const lag : {1e-4, 1e-3}) {
        CAPTURE(n);
        CAPTURE(lag);
        System const system{.law = {.run_on_mm3 = 5 * lag / n, .at_flow_mm3_s = 5, .flow_index = n},
                            .leak_per_s = 0.05};
        Agreement const found = follow(system, {gsl_odeiv2_step_msbdf, 1e-10, system}, random, 30);
        CHECK(found.run_on < 1e-6);
        CHECK(found.out < 1e-6 * found.volume);
      }
    }
  }

  TEST_CASE("a nozzle that thickens with flow agrees with the stiff reference too") {
    std::mt19937_64 random(78);
    for (double const n : {1.05, 1.3}) {
      CAPTURE(n);
      System const system{.law = {.run_on_mm3 = 2, .at_flow_mm3_s = 5, .flow_index = n},
                          .leak_per_s = 0};
      Agreement const found = follow(system, {gsl_odeiv2_step_msbdf, 1e-10, system}, random, 60);
      CHECK(found.run_on < 1e-5);
      CHECK(found.out < 1e-5 * found.volume);
    }
  }
}
