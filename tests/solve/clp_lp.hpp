// SPDX-License-Identifier: MIT
// A linear program written down row by row and handed to Clp, a general simplex solver: the
// outside opinion on optima.
#pragma once

#include <ClpSimplex.hpp>
#include <CoinPackedMatrix.hpp>
#include <utility>
#include <vector>

namespace meltlag_test {

inline double const infinity = COIN_DBL_MAX;

// minimise cost·x subject to low ≤ x ≤ high and row_low ≤ A·x ≤ row_high
class Lp {
 public:
  struct Solution {
    bool optimal;
    double objective;
    std::vector<double> x;
  };

  int add_column(double cost, double low, double high) {
    cost_.push_back(cost);
    low_.push_back(low);
    high_.push_back(high);
    return static_cast<int>(cost_.size()) - 1;
  }
  void add_row(double low, double high, std::vector<std::pair<int, double>> const& entries) {
    int const row = static_cast<int>(row_low_.size());
    row_low_.push_back(low);
    row_high_.push_back(high);
    for (auto const& [column, value] : entries) {
      rows_.push_back(row);
      columns_.push_back(column);
      values_.push_back(value);
    }
  }
  [[nodiscard]] Solution solve() const {
    CoinPackedMatrix matrix(false,
                            rows_.data(),
                            columns_.data(),
                            values_.data(),
                            static_cast<CoinBigIndex>(values_.size()));
    matrix.setDimensions(static_cast<int>(row_low_.size()), static_cast<int>(cost_.size()));
    ClpSimplex clp;
    clp.setLogLevel(0);
    clp.loadProblem(
        matrix, low_.data(), high_.data(), cost_.data(), row_low_.data(), row_high_.data());
    clp.initialSolve();
    double const* x = clp.getColSolution();
    return {clp.isProvenOptimal(), clp.getObjValue(), {x, x + cost_.size()}};
  }

 private:
  std::vector<double> cost_, low_, high_, row_low_, row_high_, values_;
  std::vector<int> rows_, columns_;
};

}  // namespace meltlag_test
