// SPDX-License-Identifier: MIT
#include "meltlag/compare/verdict.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <numbers>
#include <numeric>

namespace meltlag::compare {
namespace {

using boost::math::cdf;
using boost::math::complement;
using boost::math::quantile;
using boost::math::students_t;

constexpr std::size_t least_prints = 2;

double variance_of_mean(Sample const& sample) {
  return sample.sd * sample.sd / static_cast<double>(sample.prints);
}

double difference_sd(Sample const& a, Sample const& b) {
  return std::sqrt(variance_of_mean(a) + variance_of_mean(b));
}

double degrees_of_freedom(Sample const& a, Sample const& b) {
  double const va = variance_of_mean(a), vb = variance_of_mean(b);
  return (va + vb) * (va + vb) /
         (va * va / static_cast<double>(a.prints - 1) +
          vb * vb / static_cast<double>(b.prints - 1));
}

double critical_t(double dof) { return quantile(complement(students_t(dof), significance / 2)); }

double normal_above(double x) { return std::erfc(x / std::numbers::sqrt2) / 2; }

// Variances that so many prints show, each as likely as the next: quantiles of σ²·χ²/(n − 1).
std::array<double, 24> variances_seen(Sample const& sample) {
  double const dof = static_cast<double>(sample.prints - 1);
  boost::math::chi_squared const scatter(dof);
  std::array<double, 24> seen{};
  for (std::size_t i = 0; i < seen.size(); ++i) {
    double const part = (static_cast<double>(i) + 0.5) / static_cast<double>(seen.size());
    seen[i] = sample.sd * sample.sd * quantile(scatter, part) / dof;
  }
  return seen;
}

// Both builds with at least so many prints, scatter and means as they are.
std::pair<Sample, Sample> with_prints(Comparison const& seen, std::size_t prints) {
  Sample a = seen.old_build, b = seen.new_build;
  a.prints = std::max(a.prints, prints);
  b.prints = std::max(b.prints, prints);
  return {a, b};
}

std::optional<Further> further_prints(Comparison const& seen) {
  auto const enough = [&](std::size_t prints) {
    auto const [a, b] = with_prints(seen, prints);
    return chance_to_tell(a, b) >= power;
  };
  if (!enough(most_prints)) return std::nullopt;
  std::size_t low = least_prints - 1, high = most_prints;  // not enough, enough
  while (high - low > 1) {
    std::size_t const middle = std::midpoint(low, high);
    (enough(middle) ? high : low) = middle;
  }
  auto const [a, b] = with_prints(seen, high);
  return Further{a.prints - seen.old_build.prints, b.prints - seen.new_build.prints};
}

std::size_t missing(Sample const& sample) {
  return sample.prints < least_prints ? least_prints - sample.prints : 0;
}

void test(Comparison& seen) {
  seen.why = Why::tested;
  Welch const result = welch(seen.old_build, seen.new_build);
  seen.p = result.p;
  seen.margin = critical_t(result.degrees_of_freedom) * seen.difference_sd;
  if (result.p < significance)
    seen.verdict = seen.difference < 0 ? Verdict::better : Verdict::worse;
  else
    seen.further = further_prints(seen);
}

}  // namespace

double Sample::mean_sd() const {
  return prints < least_prints ? 0 : std::sqrt(variance_of_mean(*this));
}

Sample sample_of(std::span<double const> values) {
  Sample sample{.prints = values.size()};
  if (values.empty()) return sample;
  double const n = static_cast<double>(values.size());
  sample.mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  double squares = 0;
  for (double const value : values) squares += (value - sample.mean) * (value - sample.mean);
  if (values.size() >= least_prints) sample.sd = std::sqrt(squares / (n - 1));
  return sample;
}

Welch welch(Sample const& old_build, Sample const& new_build) {
  assert(old_build.prints >= least_prints && new_build.prints >= least_prints);
  double const sd = difference_sd(old_build, new_build);
  assert(sd > 0);
  double const t = (new_build.mean - old_build.mean) / sd;
  double const dof = degrees_of_freedom(old_build, new_build);
  return {t, dof, 2 * cdf(complement(students_t(dof), std::abs(t)))};
}

double chance_to_tell(Sample const& old_build, Sample const& new_build) {
  double const difference = std::abs(new_build.mean - old_build.mean);
  double const sd = difference_sd(old_build, new_build);
  auto const old_seen = variances_seen(old_build), new_seen = variances_seen(new_build);
  double told = 0;
  for (double const old_variance : old_seen)
    for (double const new_variance : new_seen) {
      Sample const a{old_build.prints, 0, std::sqrt(old_variance)};
      Sample const b{new_build.prints, 0, std::sqrt(new_variance)};
      double const needed = critical_t(degrees_of_freedom(a, b)) * difference_sd(a, b);
      told += normal_above((needed - difference) / sd) + normal_above((needed + difference) / sd);
    }
  return told / static_cast<double>(old_seen.size() * new_seen.size());
}

Comparison compare_builds(std::span<double const> old_prints, std::span<double const> new_prints) {
  Comparison seen{.old_build = sample_of(old_prints), .new_build = sample_of(new_prints)};
  Sample const &a = seen.old_build, &b = seen.new_build;
  if (a.prints > 0 && b.prints > 0) seen.difference = b.mean - a.mean;
  if (missing(a) + missing(b) > 0) {
    seen.why = a.prints == 0 || b.prints == 0 ? Why::nothing : Why::too_few_prints;
    seen.further = Further{missing(a), missing(b)};
    return seen;
  }
  seen.difference_sd = difference_sd(a, b);
  double const rounding = 1e-12 * std::max(std::abs(a.mean), std::abs(b.mean));
  if (seen.difference_sd <= rounding) {
    seen.why = Why::no_scatter;
    return seen;
  }
  test(seen);
  return seen;
}

}  // namespace meltlag::compare
