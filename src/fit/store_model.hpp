// SPDX-License-Identifier: MIT
// The least-squares problem of the store's cups: parameters b, f and q, in this order.
#pragma once

#include <span>

#include "meltlag/fit/least_squares.hpp"
#include "meltlag/fit/store.hpp"

namespace meltlag::fit {

struct StoreParameters {
  double burst_mm3, delivered_factor, max_flow_mm3_s;
};

// What the cup holds over what was commanded.
[[nodiscard]] double modelled_share(testpiece::StoreCup const& cup, StoreParameters const& p);
// Its derivatives to b, f and q.
[[nodiscard]] Eigen::RowVector3d share_slopes(testpiece::StoreCup const& cup,
                                              StoreParameters const& p);

// Deviation that the scale's steps give a cup's share; it is weighed empty and full.
[[nodiscard]] double scale_share_sd(double share, double mass_g, double scale_g);

struct StoreDatum {
  testpiece::StoreCup cup;
  double share;     // delivered over commanded
  double scale_sd;  // of the share
};

// A row for each cup, then one for what is known of f and one for q. `scatter` is that of cups
// beside the scale's steps, as a share. With `hold_burst` b stays where it starts.
[[nodiscard]] LeastSquaresProblem store_problem(std::span<StoreDatum const> data,
                                                testpiece::StoreKnowledge const& known,
                                                double scatter,
                                                double most_mm3,
                                                std::optional<double> hold_burst = {});

inline constexpr double unknown_share_sd = 0.1;  // of f and q where no deviation is known

}  // namespace meltlag::fit
