// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

#include "fit_search.hpp"

namespace meltlag::fit {

// The lag law, its ± and the delivered factor from unknowns ln S, n, ln factor (in this order, at
// the middle flow) and their covariance, at the flow where the run-on is known best.
void fill_lag(FitResult& result,
              Flows const& flows,
              Eigen::VectorXd const& at,
              Eigen::MatrixXd const& covariance);

}  // namespace meltlag::fit
