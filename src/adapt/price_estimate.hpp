// SPDX-License-Identifier: MIT
// What prices bring, estimated on a few passes that need not be exact.
#pragma once

#include <functional>
#include <vector>

namespace meltlag::adapt {

class PriceEstimate {
 public:
  struct Point {
    double price = 0;
    double extra = 0;      // time beyond that without pace, as a share of it
    double misplaced = 0;  // share of what is wanted
  };
  using Value = double Point::*;
  // Makes passes at some prices.
  using Run = std::function<std::vector<Point>(std::vector<double> const& prices)>;

  PriceEstimate(Run run, double mean_flow_mm3_s);

  // The price at which a value is what is wanted; the cheapest that is worth trying where it
  // cannot be had.
  double price_for(Value value, double wanted);
  [[nodiscard]] double at(Value value, double price) const;

 private:
  void evaluate(std::vector<double> const& prices);
  bool evaluate_cheaper(Value value, double wanted);

  Run run_;
  double mean_flow_mm3_s_;
  std::vector<Point> points_;  // from the dearest price on
};

}  // namespace meltlag::adapt
