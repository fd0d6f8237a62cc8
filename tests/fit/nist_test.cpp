// SPDX-License-Identifier: MIT
// Six regression sets with certified results, computed there in 128-bit arithmetic:
// NIST/ITL Statistical Reference Datasets, nonlinear regression (Misra1a, Chwirut2, DanWood: lower
// difficulty; MGH17: average; Thurber, BoxBOD: higher), each from both of its starting points.
#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include "meltlag/fit/least_squares.hpp"
#include "support/near.hpp"

using namespace meltlag::fit;

namespace {

using Model = std::function<double(Eigen::VectorXd const&, double)>;

struct StudySet {
  char const* name;
  Model model;
};

std::vector<StudySet> const& study_sets() {
  using V = Eigen::VectorXd const&;
  auto const rising = [](V b, double x) { return b[0] * (1 - std::exp(-b[1] * x)); };
  static std::vector<StudySet> const sets{
      {"Misra1a", rising},
      {"Chwirut2", [](V b, double x) { return std::exp(-b[0] * x) / (b[1] + b[2] * x); }},
      {"DanWood", [](V b, double x) { return b[0] * std::pow(x, b[1]); }},
      {"MGH17",
       [](V b, double x) {
         return b[0] + b[1] * std::exp(-x * b[3]) + b[2] * std::exp(-x * b[4]);
       }},
      {"Thurber",
       [](V b, double x) {
         return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) /
                (1 + x * (b[4] + x * (b[5] + x * b[6])));
       }},
      {"BoxBOD", rising},
  };
  return sets;
}

// Numbers of a CSV file, line by line after the header; cells without a number become 0.
std::vector<std::vector<double>> read_numbers(std::string const& file) {
  std::ifstream in(std::string(MELTLAG_SOURCE_DIR) + "/tests/fit/nist/" + file);
  REQUIRE(in.good());
  std::vector<std::vector<double>> rows;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::vector<double> row;
    for (std::size_t at = 0; at <= line.size();) {
      std::size_t const end = std::min(line.find(',', at), line.size());
      row.push_back(std::strtod(line.substr(at, end - at).c_str(), nullptr));
      at = end + 1;
    }
    rows.push_back(row);
  }
  return rows;
}

struct Certified {
  Eigen::VectorXd start[2], value, deviation;
  double sum_of_squares = 0, residual_deviation = 0;
};

Certified read_certified(std::string const& name) {
  auto const rows = read_numbers(name + "_certified.csv");
  REQUIRE(rows.size() > 4);  // the last four: sum of squares, residual deviation, freedom, rows
  std::size_t const n = rows.size() - 4;
  Certified c;
  for (Eigen::VectorXd* v : {&c.start[0], &c.start[1], &c.value, &c.deviation}) {
    v->resize(static_cast<Eigen::Index>(n));
  }
  for (std::size_t j = 0; j < n; ++j) {
    REQUIRE(rows[j].size() == 5);
    auto const k = static_cast<Eigen::Index>(j);
    c.start[0][k] = rows[j][1];
    c.start[1][k] = rows[j][2];
    c.value[k] = rows[j][3];
    c.deviation[k] = rows[j][4];
  }
  c.sum_of_squares = rows[n][3];
  c.residual_deviation = rows[n + 1][3];
  return c;
}

LeastSquaresProblem problem_of(StudySet const& set, Eigen::VectorXd const& start) {
  LeastSquaresProblem problem;
  for (Eigen::Index j = 1; j <= start.size(); ++j) problem.names.push_back("b" + std::to_string(j));
  problem.start = start;
  problem.residuals = [data = read_numbers(std::string(set.name) + ".csv"),
                       model = set.model](Eigen::VectorXd const& b) {
    Eigen::VectorXd r(static_cast<Eigen::Index>(data.size()));
    for (std::size_t i = 0; i < data.size(); ++i) {
      r[static_cast<Eigen::Index>(i)] = data[i][1] - model(b, data[i][0]);
    }
    return r;
  };
  return problem;
}

}  // namespace

TEST_SUITE("fit") {
  TEST_CASE("certified regressions come out to their digits from both starting points") {
    for (StudySet const& set : study_sets()) {
      Certified const certified = read_certified(set.name);
      for (int const which : {0, 1}) {
        CAPTURE(set.name);
        CAPTURE(which);
        LeastSquaresResult const got = solve_least_squares(
            problem_of(set, certified.start[which]),
            {.residual_scale = ResidualScale::estimated, .descent = Descent::several});
        CHECK(got.status == FitStatus::converged);
        CHECK(got.determination.undetermined.empty());
        for (Eigen::Index j = 0; j < certified.value.size(); ++j) {
          CHECK_CLOSE(got.parameters[j], certified.value[j], 5e-7);
          CHECK_CLOSE(got.determination.deviation[j], certified.deviation[j], 5e-6);
        }
        CHECK_CLOSE(got.sum_of_squares, certified.sum_of_squares, 1e-9);
        CHECK_CLOSE(got.residual_deviation, certified.residual_deviation, 1e-9);
      }
    }
  }
}
