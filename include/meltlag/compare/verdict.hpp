// SPDX-License-Identifier: MIT
// Is the new build better? Prints of both builds, each measured once, compared by Welch's t-test:
//   t = (m_new − m_old)/√(s_old²/n_old + s_new²/n_new), degrees of freedom by Welch and
//   Satterthwaite
// (NIST/SEMATECH, "e-Handbook of Statistical Methods", 1.3.5.3). The scatter is that between
// prints: what one fit says about itself does not count, since the next print may differ by more.
#pragma once

#include <optional>
#include <span>
#include <string>

namespace meltlag::compare {

struct Sample {
  std::size_t prints = 0;
  double mean = 0;
  double sd = 0;  // between prints; 0 for fewer than two
  [[nodiscard]] double mean_sd() const;
};
[[nodiscard]] Sample sample_of(std::span<double const> values);

struct Welch {
  double t;
  double degrees_of_freedom;
  double p;  // two-sided
};
// REQUIRES: at least two prints each, scatter in at least one of them.
[[nodiscard]] Welch welch(Sample const& old_build, Sample const& new_build);

enum class Verdict { better, worse, cannot_tell };
enum class Why {
  tested,          // by the scatter between prints
  nothing,         // no print of one build at all
  too_few_prints,  // a verdict needs two of each
  no_scatter,      // all readings alike: nothing says how far a print may be off
};

// How many more prints of each build it takes until a difference like the one seen comes out with a
// probability of `power` in a test at `significance`, if it and the scatter are what they look
// like.
struct Further {
  std::size_t old_build, new_build;
};

struct Comparison {
  Sample old_build, new_build;
  double difference = 0;  // new − old
  double difference_sd = 0;
  double margin = 0;  // half of the 95 % interval of the difference; 0 where it was not tested
  std::optional<double> p = {};
  Verdict verdict = Verdict::cannot_tell;
  Why why = Why::nothing;
  // Where the verdict is "cannot tell": so many more. Nothing where it takes more than
  // most_prints, or where only a first scatter can tell.
  std::optional<Further> further = {};
};

inline constexpr double significance = 0.05, power = 0.8;
inline constexpr std::size_t most_prints = 1000;

// Of quantities of which less is better: run-on, lag, blob, gap.
[[nodiscard]] Comparison compare_builds(std::span<double const> old_prints,
                                        std::span<double const> new_prints);

// The probability that Welch's test finds the difference of the means at `significance`, for normal
// scatter: the normal distribution of the difference, averaged over the variances that so few
// prints may show.
[[nodiscard]] double chance_to_tell(Sample const& old_build, Sample const& new_build);

}  // namespace meltlag::compare
