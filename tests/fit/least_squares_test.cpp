// SPDX-License-Identifier: MIT
// Bounds, losses, directions without data and many starts, on problems with answers by hand.
#include "meltlag/fit/least_squares.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include "support/near.hpp"

using namespace meltlag::fit;

namespace {

// y = a + b x with scatter 1 about a = 3, b = 0.5 at x = 0 … m − 1; every tenth may be far off.
struct Line {
  Eigen::VectorXd y;

  Line(Eigen::Index m, std::uint32_t seed, double outlier = 0) : y(m) {
    std::mt19937 random(seed);
    std::normal_distribution<double> normal;
    for (Eigen::Index i = 0; i < m; ++i) {
      y[i] = 3 + 0.5 * static_cast<double>(i) + normal(random) + (i % 10 == 4 ? outlier : 0);
    }
  }

  [[nodiscard]] LeastSquaresProblem problem() const {
    LeastSquaresProblem p{.names = {"offset", "slope"}, .start = Eigen::Vector2d(0, 0)};
    p.residuals = [data = y](Eigen::VectorXd const& ab) {
      Eigen::VectorXd const x =
          Eigen::VectorXd::LinSpaced(data.size(), 0, static_cast<double>(data.size() - 1));
      return Eigen::VectorXd(data.array() - ab[0] - ab[1] * x.array());
    };
    return p;
  }
};

// Of the slope, by the textbook: 1/Σ(x − mean)² = 12/(m³ − m).
double slope_variance(double m) { return 12 / (m * m * m - m); }

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE("a straight line has the textbook's slope, variance and correlation") {
    Line const line(40, 5);
    LeastSquaresResult const got = solve_least_squares(line.problem());
    CHECK(got.status == FitStatus::converged);
    double top = 0, mean = 19.5;
    for (Eigen::Index i = 0; i < 40; ++i) top += (static_cast<double>(i) - mean) * line.y[i];
    CHECK_CLOSE(got.parameters[1], top * slope_variance(40), 1e-9);
    CHECK_CLOSE(got.determination.covariance(1, 1), slope_variance(40), 1e-7);
    // −mean/√(mean of squares)
    CHECK_NEAR(got.determination.correlation(0, 1), -mean / std::sqrt(39.0 * 79 / 6), 1e-7);
    LeastSquaresResult const scaled =
        solve_least_squares(line.problem(), {.residual_scale = ResidualScale::estimated});
    CHECK_CLOSE(
        scaled.determination.covariance(1, 1), got.sum_of_squares / 38 * slope_variance(40), 1e-7);
  }

  TEST_CASE("a Jacobian given by the caller leads to the same end with fewer evaluations") {
    Line const line(30, 8);
    LeastSquaresProblem problem = line.problem();
    LeastSquaresResult const differences = solve_least_squares(problem);
    problem.jacobian = [](Eigen::VectorXd const&) {
      Eigen::MatrixXd j(30, 2);
      j.col(0).setConstant(-1);
      j.col(1) = -Eigen::VectorXd::LinSpaced(30, 0, 29);
      return j;
    };
    LeastSquaresResult const given = solve_least_squares(problem);
    CHECK_CLOSE(given.parameters[1], differences.parameters[1], 1e-9);
    CHECK(given.evaluations < differences.evaluations);
  }

  TEST_CASE("gross errors pull a plain fit away, not one with a robust loss") {
    Line const line(100, 11, 25);
    LeastSquaresResult const plain = solve_least_squares(line.problem());
    CHECK(std::abs(plain.parameters[0] - 3) > 1.5);
    for (Loss const loss : {Loss::huber, Loss::cauchy, Loss::tukey}) {
      double const scale = loss == Loss::huber ? 1.345 : loss == Loss::cauchy ? 2.385 : 4.685;
      LeastSquaresResult const got =
          solve_least_squares(line.problem(), {.loss = loss, .loss_scale = scale});
      CHECK(got.status == FitStatus::converged);
      CHECK_NEAR(got.parameters[0], 3, loss == Loss::huber ? 0.6 : 0.45);
      CHECK(got.weights[4] < 0.1);
      CHECK(got.weights[4] < got.weights.mean() / 5);
    }
  }

  TEST_CASE("under a robust loss the stated deviation is the scatter of many repeats") {
    for (auto const scale : {ResidualScale::known, ResidualScale::estimated}) {
      double squares = 0, stated = 0;
      constexpr int repeats = 400;
      for (std::uint32_t seed = 0; seed < repeats; ++seed) {
        LeastSquaresResult const got = solve_least_squares(
            Line(40, 100 + seed, 30).problem(),
            {.loss = Loss::tukey, .loss_scale = 4.685, .residual_scale = scale});
        squares += std::pow(got.parameters[1] - 0.5, 2) / repeats;
        stated += got.determination.covariance(1, 1) / repeats;
      }
      CHECK_CLOSE(std::sqrt(stated / squares), 1, 0.1);  // ± 3.5 % by chance
    }
  }

  TEST_CASE("a bound that is in the way holds its parameter and is reported") {
    Line const line(40, 5);
    LeastSquaresProblem problem = line.problem();
    problem.upper = Eigen::Vector2d(1, std::numeric_limits<double>::infinity());
    LeastSquaresResult const got = solve_least_squares(problem);
    CHECK(got.status == FitStatus::converged);
    CHECK_NEAR(got.parameters[0], 1, 1e-12);
    CHECK(got.at_upper[0]);
    CHECK(!got.at_lower[0]);
    CHECK(!got.at_upper[1]);
    CHECK(got.determination.deviation[0] == 0);
    // Slope through a fixed point: variance 1/Σx².
    CHECK_CLOSE(got.determination.covariance(1, 1), 6.0 / (39.0 * 40 * 79), 1e-7);
  }

  TEST_CASE("equal bounds hold a parameter at their value") {
    LeastSquaresProblem problem = Line(40, 5).problem();
    problem.lower = problem.upper = Eigen::Vector2d(2, 0);
    problem.lower[1] = -9;
    problem.upper[1] = 9;
    LeastSquaresResult const got = solve_least_squares(problem);
    CHECK(got.held[0]);
    CHECK(got.parameters[0] == 2);
    problem.lower[1] = problem.upper[1] = 0.5;
    CHECK(solve_least_squares(problem).status == FitStatus::nothing_to_fit);
  }

  TEST_CASE("what the residuals do not respond to is named, alone or together") {
    LeastSquaresProblem problem{.names = {"run_on", "factor", "width", "leak"},
                                .start = Eigen::Vector4d(1, 1, 1, 1)};
    problem.residuals = [](Eigen::VectorXd const& p) {
      Eigen::VectorXd r(6);
      for (Eigen::Index i = 0; i < 6; ++i) {
        double const x = static_cast<double>(i);
        r[i] = p[0] * std::exp(-x / 3) + p[1] * p[2] * x - 2 * std::exp(-x / 3) - 6 * x;
      }
      return r;
    };
    LeastSquaresResult const got = solve_least_squares(problem);
    CHECK_NEAR(got.parameters[0], 2, 1e-7);
    CHECK_NEAR(got.parameters[1] * got.parameters[2], 6, 1e-7);
    CHECK(got.determination.rank == 2);
    REQUIRE(got.determination.undetermined.size() == 2);
    CHECK(got.determination.undetermined[0].words == "leak");
    std::string const both = got.determination.undetermined[1].words;
    CHECK((both == "factor together with width" || both == "width together with factor"));
    CHECK(std::isfinite(got.determination.deviation[0]));
    CHECK(std::isinf(got.determination.deviation[1]));
    CHECK(std::isinf(got.determination.deviation[3]));
  }

  TEST_CASE("fewer residuals than parameters leave a direction open instead of failing") {
    LeastSquaresProblem problem = Line(1, 3).problem();
    LeastSquaresResult const got = solve_least_squares(problem);
    CHECK(got.sum_of_squares < 1e-18);
    CHECK(got.determination.undetermined.size() == 1);
    CHECK(std::isnan(got.residual_deviation));
  }

  TEST_CASE("points that cannot be evaluated are stepped around, at the start they are reported") {
    LeastSquaresProblem problem{.names = {"a"}, .start = Eigen::VectorXd::Constant(1, 30)};
    problem.residuals = [](Eigen::VectorXd const& p) {
      return Eigen::VectorXd(Eigen::Vector2d(std::log(p[0]) - 1, 0));  // NaN for a < 0
    };
    LeastSquaresResult const got = solve_least_squares(problem);
    CHECK(got.status == FitStatus::converged);
    CHECK_NEAR(got.parameters[0], std::exp(1.0), 1e-6);
    problem.start[0] = -1;
    CHECK(solve_least_squares(problem).status == FitStatus::bad_start);
  }

  TEST_CASE("many starts find the lower of two minima and count who agrees") {
    LeastSquaresProblem problem{.names = {"x"}, .start = Eigen::VectorXd::Zero(1)};
    problem.residuals = [](Eigen::VectorXd const& p) {
      // Minima near −1 and 1, the one near 1 lower.
      return Eigen::VectorXd(Eigen::Vector3d(p[0] * p[0] - 1, 0.3 * (p[0] - 1), 0.5));
    };
    std::vector<Eigen::VectorXd> starts;
    for (double const x : {-3.0, -1.2, 0.8, 2.0, 4.0}) {
      starts.push_back(Eigen::VectorXd::Constant(1, x));
    }
    ManyStartsResult const got = solve_from_many(problem, starts);
    CHECK(got.starts == 5);
    CHECK_NEAR(got.best.parameters[0], 1, 1e-6);
    CHECK_NEAR(got.best.cost, 0.125, 1e-12);
    CHECK(got.agreeing == 3);  // those that start on its side
  }

  TEST_CASE("shapes that do not agree are refused") {
    LeastSquaresProblem problem = Line(5, 1).problem();
    problem.lower = Eigen::VectorXd::Zero(3);
    CHECK_THROWS_AS(static_cast<void>(solve_least_squares(problem)), std::invalid_argument);
    problem.lower = Eigen::Vector2d(1, 1);
    problem.upper = Eigen::Vector2d(0, 2);
    CHECK_THROWS_AS(static_cast<void>(solve_least_squares(problem)), std::invalid_argument);
  }
}
