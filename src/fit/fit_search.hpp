// SPDX-License-Identifier: MIT
// The search for what explains the readings best: start, rounds, extras, rows left out.
#pragma once

#include <optional>
#include <vector>

#include "fit_model.hpp"
#include "fit_rows.hpp"

namespace meltlag::fit {

// Flows that the file asks for at the readings' places; the middle one is their geometric mean.
struct Flows {
  double slow, middle, fast;
};

// Flows that the file asks for at the readings' places.
[[nodiscard]] Flows flows_of(reading::PrintedPath const& path,
                             std::vector<reading::Reading> const& readings);

// One way to explain the readings.
struct Explained {
  LeastSquaresResult found;
  double twice_cost = 0;
};

class Search {
 public:
  Search(reading::PrintedPath const& path,
         std::vector<reading::Reading> const& readings,
         FitOptions const& options);

  // Throws Error where the readings cannot determine the lag.
  void run();

  [[nodiscard]] Unknowns const& unknowns() const { return *unknowns_; }
  [[nodiscard]] Explained const& best() const { return best_; }
  [[nodiscard]] Flows const& flows() const { return flows_; }
  [[nodiscard]] std::vector<ExtraOutcome> const& extras() const { return extras_; }
  [[nodiscard]] std::vector<bool> const& left_out() const { return left_out_; }
  [[nodiscard]] std::vector<RowOutcome> judged() const;

 private:
  LeastSquaresResult solve(Unknowns const& unknowns,
                           Residuals& residuals,
                           Eigen::VectorXd const& start);
  Eigen::VectorXd best_start(Unknowns const& unknowns);
  void widen_bands(std::vector<reading::Predicted> const& predicted);
  Explained rounds(reading::Predictor const& predictor,
                   Unknowns const& unknowns,
                   Eigen::VectorXd const& start,
                   int count);
  [[nodiscard]] bool can_show(Extra extra) const;
  void find_extras();
  struct Found {
    Extra extra;
    double chance;
    Unknowns unknowns;
    Explained explained;
  };
  [[nodiscard]] Unknowns with(Extra extra) const;
  [[nodiscard]] double promised_gain(Unknowns const& more) const;
  [[nodiscard]] Found try_with(Extra extra, Unknowns const& more);
  [[nodiscard]] double chance_of(Explained const& with, Eigen::Index added) const;
  void leave_out_feed_trouble();

  reading::PrintedPath const& path_;
  std::vector<reading::Reading> const& readings_;
  FitOptions const& options_;
  Flows flows_;
  std::vector<std::string> traces_;
  reading::Predictor quick_, whole_;  // a few layers of each reading, and all of them
  std::vector<bool> left_out_;
  std::vector<Band> bands_;
  std::optional<Unknowns> unknowns_;
  Explained best_;
  std::vector<ExtraOutcome> extras_;
};

}  // namespace meltlag::fit
