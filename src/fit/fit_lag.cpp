// SPDX-License-Identifier: MIT
#include "fit_lag.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::fit {

void fill_lag(FitResult& result,
              Flows const& flows,
              Eigen::VectorXd const& at,
              Eigen::MatrixXd const& covariance) {
  double const var_s = covariance(Unknowns::log_run_on, Unknowns::log_run_on);
  double const var_n = covariance(Unknowns::index, Unknowns::index);
  double const both = covariance(Unknowns::log_run_on, Unknowns::index);
  // ln S at Q has the variance v_S + 2 q c + q² v_n, q = ln(Q/Qref): least at q = −c/v_n.
  double const q0 = var_n > 0 ? -both / var_n : 0;
  double const q =
      std::clamp(q0, std::log(flows.slow / flows.middle), std::log(flows.fast / flows.middle));
  double const log_s = at[Unknowns::log_run_on] + q * at[Unknowns::index];
  double const var = var_s + 2 * q * both + q * q * var_n;
  double const cross = both + q * var_n;
  result.law = {.run_on_mm3 = std::exp(log_s),
                .at_flow_mm3_s = flows.middle * std::exp(q),
                .flow_index = at[Unknowns::index],
                .at_c = {},
                .activation_kj_mol = {}};
  result.run_on_mm3 = {std::exp(log_s), std::exp(log_s) * std::sqrt(var)};
  result.flow_index = {at[Unknowns::index], std::sqrt(var_n)};
  result.run_on_index_correlation = var > 0 && var_n > 0 ? cross / std::sqrt(var * var_n) : 0;
  double const factor = std::exp(at[Unknowns::log_factor]);
  result.delivered_factor = {
      factor, factor * std::sqrt(covariance(Unknowns::log_factor, Unknowns::log_factor))};
  double const shown[] = {flows.slow, flows.middle, flows.fast};
  for (std::size_t i = 0; i < 3; ++i) result.at_flows[i] = at_flow(result, shown[i]);
}

}  // namespace meltlag::fit
