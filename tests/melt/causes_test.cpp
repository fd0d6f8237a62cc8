// SPDX-License-Identifier: MIT
#include "meltlag/melt/causes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "melt/bench_auger.hpp"
#include "meltlag/base/vec.hpp"
#include "support/near.hpp"

using namespace meltlag::melt;
using meltlag::circle_area;
using meltlag_test::bench_auger;

namespace {

Deviations small_deviations() {
  return {{"barrel.sections[0].bore_mm", 0.03},
          {"barrel.tip_gap_mm", 0.1},
          {"nozzle.diameter_mm", 0.015},
          {"mechanics.parts[0].n_per_mm", 120},
          {"mechanics.parts[1].n_per_mm", 900},
          {"material.bulk_modulus_mpa", 80},
          {"material.consistency_pa_sn", 300},
          {"material.flow_index", 0.015},
          {"lag.run_on_mm3", 0.3}};  // none of the machine's: passed over
}

MeasuredLag measured(double run_on_mm3, double sd_mm3) {
  return {.law = {.run_on_mm3 = run_on_mm3,
                  .at_flow_mm3_s = 5,
                  .flow_index = 0.69,
                  .at_c = {},
                  .activation_kj_mol = {}},
          .run_on_sd_mm3 = sd_mm3,
          .flow_index_sd = 0};
}

// Mean and standard deviation of a stream of numbers.
struct Tally {
  double count = 0, sum = 0, squares = 0;
  void add(double x) {
    ++count;
    sum += x;
    squares += x * x;
  }
  [[nodiscard]] double sd() const {
    double const mean = sum / count;
    return std::sqrt((squares - count * mean * mean) / (count - 1));
  }
};

}  // namespace

TEST_SUITE("melt") {
  TEST_CASE("first-order deviations agree with 100,000 draws to 5 %") {
    Deviations const deviations = small_deviations();
    Causes const causes = find_causes(bench_auger(), deviations, 5);
    std::mt19937_64 random(4);
    std::normal_distribution<double> normal;
    Tally run_on, lag, pressure, thrust, volume, bracket, bracket_share, melt_share, deflection;
    for (int draw = 0; draw < 100'000; ++draw) {
      Machine machine = bench_auger();
      for (auto const& [key, sd] : deviations)
        if (double* const value = find_value(machine, key)) *value += sd * normal(random);
      PartsLag const parts = lag_from_parts(machine, 5);
      run_on.add(parts.law.run_on_mm3);
      lag.add(lag_s(parts.law, 5));
      pressure.add(parts.pressure_mpa);
      thrust.add(parts.thrust_n);
      volume.add(parts.melt_volume_mm3);
      bracket.add(parts.shares[1].run_on_mm3);
      bracket_share.add(parts.shares[1].run_on_mm3 / parts.law.run_on_mm3);
      melt_share.add(parts.shares[0].run_on_mm3 / parts.law.run_on_mm3);
      deflection.add(parts.thrust_n / parts.shares[1].stiffness_n_per_mm);
    }
    CHECK_CLOSE(causes.run_on_mm3.sd, run_on.sd(), 0.05);
    CHECK_CLOSE(causes.lag_s.sd, lag.sd(), 0.05);
    CHECK_CLOSE(causes.pressure_mpa.sd, pressure.sd(), 0.05);
    CHECK_CLOSE(causes.thrust_n.sd, thrust.sd(), 0.05);
    CHECK_CLOSE(causes.melt_volume_mm3.sd, volume.sd(), 0.05);
    CHECK_CLOSE(causes.causes[1].run_on_mm3.sd, bracket.sd(), 0.05);
    CHECK_CLOSE(causes.causes[1].share.sd, bracket_share.sd(), 0.05);
    CHECK_CLOSE(causes.causes[0].share.sd, melt_share.sd(), 0.05);
    CHECK_CLOSE(causes.causes[1].deflection_mm.sd, deflection.sd(), 0.05);
  }

  TEST_CASE("shares add up to 1, and a doubt that all share moves no share") {
    Causes const causes = find_causes(bench_auger(), {{"material.consistency_pa_sn", 400}}, 5);
    double whole = 0;
    for (Cause const& cause : causes.causes) {
      whole += cause.share.value;
      CHECK_NEAR(cause.share.sd, 0, 1e-9);
      CHECK_CLOSE(cause.run_on_mm3.sd, cause.run_on_mm3.value * 400 / 4260, 1e-6);
    }
    CHECK_CLOSE(whole, 1, 1e-14);
    CHECK_CLOSE(causes.run_on_mm3.sd, causes.run_on_mm3.value * 400 / 4260, 1e-6);
    REQUIRE(causes.doubts.size() == 1);
    CHECK(causes.doubts[0].key == "material.consistency_pa_sn");
  }

  TEST_CASE("a deflection read at the working flow needs no consistency of the melt") {
    Machine machine = bench_auger();
    machine.parts = {{.name = "bracket", .deflection_mm = 0.03, .at_flow_mm3_s = 5}};
    Causes const causes = find_causes(machine, {{"material.consistency_pa_sn", 2000}}, 5);
    CHECK_CLOSE(causes.causes[1].run_on_mm3.value, 0.03 * circle_area(12), 1e-12);
    CHECK_NEAR(causes.causes[1].run_on_mm3.sd, 0, 1e-9);
    CHECK(causes.causes[0].run_on_mm3.sd > 0);
  }

  TEST_CASE("the screw's own area takes from each share what its way of giving says") {
    Machine machine = bench_auger();
    machine.parts[1] = {.name = "plate", .deflection_mm = 0.01, .at_flow_mm3_s = 5};
    Causes const causes = find_causes(machine, {}, 5);
    double const ratio = std::pow(11.8 / 12, 2);
    CHECK_CLOSE(causes.causes[0].least_run_on_mm3, causes.causes[0].run_on_mm3.value, 1e-14);
    CHECK_CLOSE(causes.causes[1].least_run_on_mm3,
                ratio * ratio * causes.causes[1].run_on_mm3.value,
                1e-12);
    CHECK_CLOSE(
        causes.causes[2].least_run_on_mm3, ratio * causes.causes[2].run_on_mm3.value, 1e-12);
    double sum = 0;
    for (Cause const& cause : causes.causes) sum += cause.least_run_on_mm3;
    CHECK_CLOSE(sum, causes.parts.least_run_on_mm3, 1e-12);
    CHECK_CLOSE(causes.least_lag_s / causes.lag_s.value, sum / causes.run_on_mm3.value, 1e-12);
  }

  // R. K. Bansal, Strength of Materials, problem 13.1: a cantilever of 3 m, E 2.1e5 N/mm² and
  // I 1e8 mm⁴ bends by 10.71 mm under 25 kN at its end (k = 3EI/L³).
  TEST_CASE("a bracket gives what the cantilever of the textbook does") {
    Machine machine = bench_auger();
    double const k = 3 * 2.1e5 * 1e8 / std::pow(3000.0, 3);
    machine.parts = {{.name = "cantilever", .n_per_mm = k}};
    double const thrust = find_causes(machine, {}, 5).thrust_n.value;
    machine.material.consistency_pa_sn *= 25000 / thrust;
    Causes const causes = find_causes(machine, {}, 5);
    CHECK_CLOSE(causes.thrust_n.value, 25000, 1e-12);
    CHECK_NEAR(causes.causes[1].deflection_mm.value, 10.71, 0.005 /* mm */);
    CHECK_CLOSE(causes.causes[1].deflection_mm.value, 25000 / k, 1e-12);
  }

  TEST_CASE("a screw that just fits its bore has deviations too") {
    Machine machine = bench_auger();
    machine.barrel.screw_diameter_mm = 12;
    Deviations const bore{{"barrel.sections[0].bore_mm", 0.05}};
    double const expected = find_causes(bench_auger(), bore, 5).run_on_mm3.sd;
    CHECK_CLOSE(find_causes(machine, bore, 5).run_on_mm3.sd, expected, 1e-3);
  }

  TEST_CASE("friction adds to the thrust and winds up twice its deflection on a reversal") {
    Machine machine = bench_auger();
    double const without = find_causes(machine, {}, 5).thrust_n.value;
    CHECK_FALSE(find_causes(machine, {}, 5).wind_up);
    machine.friction_n = 30;
    Causes const causes = find_causes(machine, {}, 5);
    CHECK_CLOSE(causes.thrust_n.value, without + 30, 1e-12);
    REQUIRE(causes.wind_up);
    double const deflection = 2 * 30 * (1 / 1500.0 + 1 / 12000.0);
    CHECK_CLOSE(causes.wind_up->deflection_mm, deflection, 1e-12);
    CHECK_CLOSE(causes.wind_up->mm3, circle_area(12) * deflection, 1e-12);
    CHECK_CLOSE(causes.run_on_mm3.value, find_causes(bench_auger(), {}, 5).run_on_mm3.value, 1e-12);
  }

  TEST_CASE("an entrance costs the pressure of so much more hole") {
    Machine machine = bench_auger();
    machine.nozzle.entrance_mm = 0.5;
    Causes const causes = find_causes(machine, {}, 5);
    CHECK_CLOSE(causes.pressure_mpa.value,
                find_causes(bench_auger(), {}, 5).pressure_mpa.value * 2.0 / 1.5,
                1e-12);
    CHECK_CLOSE(causes.entrance_mpa, causes.pressure_mpa.value / 4, 1e-12);
  }

  TEST_CASE("nothing is called unexplained within two deviations and the range of the area") {
    Causes const causes = find_causes(bench_auger(), {}, 5);
    double const most = causes.run_on_mm3.value, least = causes.parts.least_run_on_mm3;
    REQUIRE(most - least > 0.1);
    auto const reading = [&](double run_on, double sd) {
      return compare_with_measured(causes, measured(run_on, sd)).reading;
    };
    CHECK((reading((most + least) / 2, 0.001) == Reading::explained));
    CHECK((reading(most + 0.19, 0.1) == Reading::explained));
    CHECK((reading(most + 0.21, 0.1) == Reading::more));
    CHECK((reading(least - 0.19, 0.1) == Reading::explained));
    CHECK((reading(least - 0.21, 0.1) == Reading::less));
    // Where half of it could be missing without being seen, nothing is called explained.
    CHECK((reading(most, 0.24 * most) == Reading::explained));
    CHECK((reading(most, 0.26 * most) == Reading::cannot_tell));
    CHECK((reading(2.5 * most, 0.9 * most) == Reading::cannot_tell));
    Finding const finding = compare_with_measured(causes, measured(most + 1, 0.1));
    CHECK_CLOSE(finding.difference_mm3.value, 1, 1e-12);
    CHECK_CLOSE(finding.difference_mm3.sd, 0.1, 1e-12);
  }

  TEST_CASE("a measured law carries the deviations of run-on and flow index to any flow") {
    MeasuredLag law = measured(5, 0.3);
    law.flow_index_sd = 0.05;
    CHECK_CLOSE(run_on_at_flow(law, 5).sd, 0.3, 1e-12);
    double const by_index = 0.05 * std::log(2.0);
    Uncertain const at_ten = run_on_at_flow(law, 10);
    CHECK_CLOSE(at_ten.value, 5 * std::pow(2, 0.69), 1e-12);
    CHECK_CLOSE(at_ten.sd, at_ten.value * std::hypot(0.06, by_index), 1e-12);
    double const step = 1e-6;
    MeasuredLag steeper = law;
    steeper.law.flow_index += step;
    double const slope = (lag_at_flow(steeper, 10).value - lag_at_flow(law, 10).value) / step;
    double const lag = lag_at_flow(law, 10).value;
    CHECK_CLOSE(lag_at_flow(law, 10).sd, std::hypot(0.06 * lag, 0.05 * slope), 1e-5);
    // Errors that go together, as a fit states them; at a correlation of −1 they cancel.
    law.correlation = -0.5;
    double const a = 0.06 * lag, b = 0.05 * slope;
    CHECK_CLOSE(lag_at_flow(law, 10).sd, std::sqrt(a * a - a * b + b * b), 1e-5);
    law.correlation = -1;
    CHECK_CLOSE(run_on_at_flow(law, 10).sd, at_ten.value * std::abs(0.06 - by_index), 1e-9);
  }

  TEST_CASE("what two builds have alike does not make their difference uncertain") {
    Deviations const common{{"barrel.sections[0].length_mm", 1},
                            {"mechanics.parts[0].n_per_mm", 150}};
    Build const old_build{bench_auger(), common};
    Build new_build{bench_auger(), common};
    new_build.machine.parts[0].name = "another bracket";
    BuildDifference const alike = difference(old_build, old_build, 5);
    CHECK(alike.run_on_mm3.value == 0);
    CHECK_NEAR(alike.run_on_mm3.sd, 0, 1e-12);
    // The brackets are two things of the same stiffness: their errors do not cancel.
    Deviations const bracket_only{{"mechanics.parts[0].n_per_mm", 150}};
    double const one = find_causes(bench_auger(), bracket_only, 5).run_on_mm3.sd;
    BuildDifference const changed = difference(old_build, new_build, 5);
    CHECK(changed.run_on_mm3.value == 0);
    CHECK_CLOSE(changed.run_on_mm3.sd, std::sqrt(2.0) * one, 1e-6);
    CHECK_NEAR(changed.melt_volume_mm3.sd, 0, 1e-9);
  }

  TEST_CASE("a key finds its number, and no other does") {
    Machine machine = bench_auger();
    for (char const* key : {"barrel.sections[0].length_mm",
                            "barrel.screw_diameter_mm",
                            "barrel.air_mm3",
                            "nozzle.hole_length_mm",
                            "nozzle.entrance_mm",
                            "mechanics.parts[1].n_per_mm",
                            "mechanics.friction_n",
                            "material.flow_index"}) {
      CAPTURE(std::string{key});
      CHECK(find_value(machine, key) != nullptr);
    }
    for (char const* key : {"barrel.sections[1].length_mm",
                            "barrel.sections[0].depth_mm",
                            "barrel.sections[x].length_mm",
                            "barrel.sections",
                            "barrel.melt_volume_mm3",
                            "mechanics.parts[0].deflection_mm",
                            "mechanics.parts[7].n_per_mm",
                            "lag.run_on_mm3",
                            "nozzle",
                            ""}) {
      CAPTURE(std::string{key});
      CHECK(find_value(machine, key) == nullptr);
    }
  }
}
