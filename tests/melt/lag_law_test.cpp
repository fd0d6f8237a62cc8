// SPDX-License-Identifier: MIT
#include "meltlag/melt/lag_law.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "meltlag/melt/nozzle_flow.hpp"
#include "meltlag/melt/temperature.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;

TEST_SUITE("melt") {
  TEST_CASE("run-on and flow of a lag law are inverse to each other") {
    for (double const n : {0.25, 1.0 / 3, 0.5, 0.77, 1.0, 1.2}) {
      CAPTURE(n);
      LagLaw const law{.run_on_mm3 = 3.2, .at_flow_mm3_s = 4.5, .flow_index = n};
      CHECK_CLOSE(run_on_at_flow(law, 4.5), 3.2, 1e-15);
      for (double const q : {0.01, 0.7, 4.5, 19.0}) {
        CHECK_CLOSE(flow_at_run_on(law, run_on_at_flow(law, q)), q, 1e-13);
        CHECK_CLOSE(NozzleFlow(law)(run_on_at_flow(law, q)), q, 1e-13);
      }
    }
  }

  TEST_CASE("an empty nozzle lets nothing out") {
    LagLaw const law{.run_on_mm3 = 3, .at_flow_mm3_s = 5, .flow_index = 0.5};
    CHECK(flow_at_run_on(law, 0) == 0);
    CHECK(flow_at_run_on(law, -2) == 0);
    CHECK(run_on_at_flow(law, -1) == 0);
    CHECK(NozzleFlow(law)(-2) == 0);
  }

  TEST_CASE("the local lag is the slope of run-on over flow") {
    for (double const n : {0.3, 0.5, 1.0}) {
      LagLaw const law{.run_on_mm3 = 3, .at_flow_mm3_s = 5, .flow_index = n};
      for (double const q : {0.5, 5.0, 12.0}) {
        double const step = 1e-5 * q;
        double const slope =
            (run_on_at_flow(law, q + step) - run_on_at_flow(law, q - step)) / (2 * step);
        CHECK_CLOSE(lag_s(law, q), slope, 1e-8);
        CHECK_CLOSE(1 / NozzleFlow(law).slope(run_on_at_flow(law, q)), slope, 1e-8);
      }
    }
  }

  // Derived, exact: τ = n·(V/B)·(P/Q) for V 1 cm³, B 1.2 GPa, n 0.3, P 10 MPa, Q 20 mm³/s.
  TEST_CASE("the lag of a cubic centimetre of melt alone is an eighth of a second") {
    double const run_on_mm3 = 1000.0 / 1200 * 10;
    LagLaw const law{.run_on_mm3 = run_on_mm3, .at_flow_mm3_s = 20, .flow_index = 0.3};
    CHECK_CLOSE(lag_s(law, 20), 0.125, 1e-14);
  }

  // Derived from the Arrhenius law: 27 kJ/mol, within the textbook range of HDPE (from memory).
  TEST_CASE("a hotter nozzle shortens the lag by the Arrhenius factor") {
    CHECK_CLOSE(
        viscosity_factor({.activation_kj_mol = 27, .from_c = 190, .to_c = 210}), 0.748085, 1e-6);
    LagLaw const law{.run_on_mm3 = 4,
                     .at_flow_mm3_s = 5,
                     .flow_index = 0.5,
                     .at_c = 190,
                     .activation_kj_mol = 27};
    CHECK_CLOSE(at_temperature(law, 210).run_on_mm3, 4 * 0.748085, 1e-6);
    CHECK_CLOSE(at_temperature(at_temperature(law, 250), 190).run_on_mm3, 4, 1e-14);
  }

  TEST_CASE("without a known temperature the lag law stays as it is") {
    LagLaw law{.run_on_mm3 = 4, .at_flow_mm3_s = 5, .flow_index = 0.5};
    CHECK(at_temperature(law, 210).run_on_mm3 == 4);
    law.at_c = 190;
    CHECK(at_temperature(law, 210).run_on_mm3 == 4);
    law.activation_kj_mol = 50;
    CHECK(at_temperature(law, std::numeric_limits<double>::quiet_NaN()).run_on_mm3 == 4);
    CHECK(at_temperature(law, 210).run_on_mm3 < 4);
  }

  TEST_CASE("a frozen nozzle stays a finite number") {
    LagLaw const law{.run_on_mm3 = 4,
                     .at_flow_mm3_s = 5,
                     .flow_index = 0.3,
                     .at_c = 200,
                     .activation_kj_mol = 120};
    for (double const t : {-400.0, -273.15, 0.0, 25.0}) {
      LagLaw const cold = at_temperature(law, t);
      CHECK(std::isfinite(cold.run_on_mm3));
      CHECK(NozzleFlow(cold)(4.0) >= 0);
      CHECK(NozzleFlow(cold)(4.0) < 1e-3);
    }
  }
}
