// SPDX-License-Identifier: MIT
// Which places a plan chooses, and what it promises of them.
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include "../src/fit/information.hpp"
#include "fit/synthetic.hpp"
#include "meltlag/fit/plan_readings.hpp"
#include "support/near.hpp"

namespace meltlag::fit {
using namespace testpiece;
using namespace reading;
namespace {

constexpr int few_layers = 6;

synthetic::Bench const& twenty() {
  static synthetic::Bench const bench =
      synthetic::make_bench(synthetic::piece_options(few_layers), 20);
  return bench;
}
synthetic::Bench const& sixty() {
  static synthetic::Bench const bench =
      synthetic::make_bench(synthetic::piece_options(few_layers), 60);
  return bench;
}

std::vector<Reading> chosen(ReadingPlan const& plan) {
  return {plan.readings.begin(), plan.readings.begin() + plan.chosen};
}

// How wide the bead is that a middling machine lays down there, `off_mm` further along.
double middling_width(synthetic::Bench const& bench, Reading reading, double off_mm) {
  for (double& at : reading.at_mm) at += off_mm;
  Predictor const predictor(bench.path, std::vector<Reading>{reading}, {.layer_height_mm = 0.3});
  TestedPlant const plant{.plant = {.law = {.run_on_mm3 = 1.8,
                                            .at_flow_mm3_s = 4,
                                            .flow_index = 0.6,
                                            .at_c = {},
                                            .activation_kj_mol = {}},
                                    .feed = {.slicer_diameter_mm = 1.75}}};
  return predictor.predict(predictor.simulate(plant), 0, 0.3).value;
}

// Random sensitivities of readings on a few traces, from a fixed seed.
struct Told {
  Sensitivity reading;
  std::size_t trace;
};
std::vector<Told> told(int count) {
  meltlag_reference::Dice dice(5);
  std::vector<Told> out;
  for (int i = 0; i < count; ++i) {
    Sensitivity one;
    for (int k = 0; k < 3; ++k) one.by_plant[k] = dice.normal();
    one.by_height = 3 * dice.normal();
    out.push_back({one, static_cast<std::size_t>(i % 3)});
  }
  return out;
}

// The same with all heights in one dense matrix.
Eigen::Matrix3d dense_covariance(std::vector<Told> const& readings,
                                 Eigen::Matrix3d const& beforehand,
                                 double height_sd_mm) {
  Eigen::Matrix<double, 6, 6> all = Eigen::Matrix<double, 6, 6>::Zero();
  all.topLeftCorner<3, 3>() = beforehand;
  for (int k = 3; k < 6; ++k) all(k, k) = 1 / (height_sd_mm * height_sd_mm);
  for (Told const& one : readings) {
    Eigen::Matrix<double, 6, 1> row = Eigen::Matrix<double, 6, 1>::Zero();
    row.head<3>() = one.reading.by_plant;
    row[3 + static_cast<Eigen::Index>(one.trace)] = one.reading.by_height;
    all += row * row.transpose();
  }
  return all.inverse().topLeftCorner<3, 3>();
}

TEST_SUITE("fit") {
  TEST_CASE("information with unknown heights is that of the dense matrix, added and taken") {
    Eigen::Matrix3d beforehand = Eigen::Vector3d(0.4, 11, 25).asDiagonal();
    beforehand(0, 1) = beforehand(1, 0) = 0.1;
    auto const readings = told(14);
    std::vector<Told> kept(readings.begin(), readings.begin() + 9);
    Information information(3, beforehand, 0.03);
    for (Told const& one : readings)
      information.change(one.reading, one.trace, Information::Change::add);
    for (std::size_t i = 9; i < readings.size(); ++i)
      information.change(readings[i].reading, readings[i].trace, Information::Change::take);
    Eigen::Matrix3d const dense = dense_covariance(kept, beforehand, 0.03);
    CHECK_NEAR((information.covariance() - dense).norm(), 0, 1e-9 * dense.norm());
    auto const spread = [](Eigen::Matrix3d const& covariance) {
      return std::log(covariance.topLeftCorner<2, 2>().determinant()) +
             2 * std::log(covariance(2, 2));
    };
    CHECK_NEAR(information.log_spread(), spread(dense), 1e-9);

    Told const& next = readings[10];
    kept.push_back(next);
    CHECK_NEAR(information.log_spread_after(next.reading, next.trace, Information::Change::add),
               spread(dense_covariance(kept, beforehand, 0.03)),
               1e-9);
    CHECK(information.log_spread_after(next.reading, next.trace, Information::Change::add) <
          information.log_spread());
  }

  TEST_CASE("a plan has as many widths as asked for, first and numbered in order") {
    for (synthetic::Bench const* bench : {&twenty(), &sixty()}) {
      CHECK(bench->plan.chosen == (bench == &twenty() ? 20 : 60));
      std::set<std::string> places;
      for (std::size_t i = 0; i < bench->plan.readings.size(); ++i) {
        Reading const& reading = bench->plan.readings[i];
        CHECK(reading.row == static_cast<int>(i) + 1);
        CHECK(reading.lines.size() == reading.at_mm.size());
        CHECK(reading.expected.has_value());
        CHECK_FALSE(reading.value.has_value());
        if (i < static_cast<std::size_t>(bench->plan.chosen))
          CHECK(reading.kind == ReadingKind::width);
      }
    }
  }

  TEST_CASE("no two widths of a trace are closer than the calipers' jaw") {
    for (synthetic::Bench const* bench : {&twenty(), &sixty()}) {
      auto const widths = chosen(bench->plan);
      for (std::size_t i = 0; i < widths.size(); ++i)
        for (std::size_t k = 0; k < i; ++k)
          if (widths[i].trace == widths[k].trace)
            CHECK(std::abs(widths[i].ruler_mm - widths[k].ruler_mm) >= 4);
    }
  }

  TEST_CASE("no width stands where a resting head left a lump") {
    synthetic::Bench const& bench = sixty();
    std::vector<double> rests;
    for (PathRest const& rest : bench.path.rests)
      if (rest.before_move < bench.path.moves.size())
        rests.push_back(bench.path.moves[rest.before_move].way_mm);
    for (PathMove const& move : bench.path.moves)
      if (move.length_mm() == 0) rests.push_back(move.way_mm);
    REQUIRE(rests.size() > 20);
    for (Reading const& reading : chosen(bench.plan)) {
      for (std::size_t i = 0; i < reading.lines.size(); ++i) {
        PathMove const& move = bench.path.moves[bench.path.move_of_line.at(reading.lines[i])];
        double const way = move.way_mm + reading.at_mm[i];
        for (double const rest : rests) CHECK(std::abs(rest - way) >= 2);
      }
    }
  }

  TEST_CASE("no width stands on a steep flank, nor where a middling machine leaves no bead") {
    for (Reading const& reading : chosen(sixty().plan)) {
      CAPTURE(reading.trace);
      CAPTURE(reading.ruler_mm);
      double const slope =
          (middling_width(sixty(), reading, 0.5) - middling_width(sixty(), reading, -0.5));
      CHECK(std::abs(slope) < 0.25);  // mm of width for one of place
      CHECK(middling_width(sixty(), reading, 0) > 0.3);
    }
  }

  TEST_CASE("what is expected stands in the sheet for a middling machine") {
    for (Reading const& reading : chosen(twenty().plan))
      CHECK_NEAR(*reading.expected, middling_width(twenty(), reading, 0), 0.02);
  }

  TEST_CASE("more widths never say less of any machine") {
    REQUIRE(twenty().plan.expected.size() == 3);
    REQUIRE(sixty().plan.expected.size() == 3);
    for (std::size_t i = 0; i < 3; ++i) {
      ExpectedPrecision const& few = twenty().plan.expected[i];
      ExpectedPrecision const& many = sixty().plan.expected[i];
      CHECK(few.run_on_mm3 == many.run_on_mm3);
      CHECK(many.run_on_sd_mm3 <= few.run_on_sd_mm3);
      CHECK(many.flow_index_sd <= few.flow_index_sd);
      CHECK(many.lag_sd_s <= few.lag_sd_s);
      CHECK(many.run_on_sd_mm3 > 0);
    }
  }

  TEST_CASE("the same piece gets the same plan, byte for byte") {
    synthetic::Bench const again = synthetic::make_bench(synthetic::piece_options(few_layers), 20);
    CHECK(write_sheet(again.plan.readings) == write_sheet(twenty().plan.readings));
  }

  TEST_CASE("a scale at hand adds a row for the mass") {
    auto const has_mass = [](ReadingPlan const& plan) {
      return std::any_of(plan.readings.begin(), plan.readings.end(), [](Reading const& reading) {
        return reading.kind == ReadingKind::mass;
      });
    };
    CHECK_FALSE(has_mass(twenty().plan));
    ReadingPlan const weighed =
        plan_readings(twenty().piece,
                      twenty().path,
                      {.feed = {.slicer_diameter_mm = 1.75},
                       .readings = 8,
                       .predictor = {.layer_height_mm = 0.3, .density_g_cm3 = 1.24}});
    CHECK(has_mass(weighed));
    CHECK(weighed.chosen == 8);
  }
}

}  // namespace
}  // namespace meltlag::fit
