// SPDX-License-Identifier: MIT
// A profile in words: what it describes, what is missing, what looks odd, what to do next.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "meltlag/profile/profile.hpp"

namespace meltlag::profile {

struct LagAtFlow {
  double flow_mm3_s;
  double lag_s;
  std::optional<double> lag_sd_s;  // where the deviation of the run-on or the flow index is known
};

struct Review {
  Source source = Source::none;
  std::optional<double> melt_volume_mm3;
  std::optional<melt::LagLaw> law;      // the one that `adapt` would use
  std::vector<LagAtFlow> lags;          // at three flows; empty without a law
  std::optional<melt::PartsLag> parts;  // what the parts explain
  // Sentences for the user, in the order to read them.
  std::vector<std::string> describes, missing, odd;
  std::string next;  // the next thing to do, with the command to type
};

[[nodiscard]] Review review(Profile const& profile);

// Why the lag that a file would be adapted with may not be the one it is printed with, a sentence
// each: it is only computed, it was left behind in a base, or it belongs to another plastic, nozzle
// or temperature. `print_c` is the hottest that the file sets, where it is known.
[[nodiscard]] std::vector<std::string> lag_doubts(Profile const& profile,
                                                  std::optional<double> print_c);

// Lag and its deviation by first-order error propagation, with a = sd S/S, b = sd n·(1/n +
// ln(Q/Qref)) and the correlation ρ that the profile states: (sd τ/τ)² = a² + 2ρ·a·b + b².
[[nodiscard]] LagAtFlow lag_at_flow(Profile const& profile,
                                    melt::LagLaw const& law,
                                    double flow_mm3_s);

}  // namespace meltlag::profile
