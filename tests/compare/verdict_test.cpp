// SPDX-License-Identifier: MIT
#include "meltlag/compare/verdict.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include "meltlag/compare/builds.hpp"
#include "support/near.hpp"

using namespace meltlag::compare;

namespace {

// Prints of a build whose run-on scatters about a mean.
class Workshop {
 public:
  explicit Workshop(unsigned seed) : random_(seed) {}
  std::vector<double> prints(std::size_t count, double mean, double sd) {
    std::vector<double> values;
    for (std::size_t i = 0; i < count; ++i) values.push_back(mean + sd * normal_(random_));
    return values;
  }
  // In how many of so many repetitions Welch's test tells the builds apart.
  double told_apart(Sample const& a, Sample const& b, int repetitions) {
    int told = 0;
    for (int i = 0; i < repetitions; ++i) {
      Welch const result = welch(sample_of(prints(a.prints, a.mean, a.sd)),
                                 sample_of(prints(b.prints, b.mean, b.sd)));
      told += result.p < significance ? 1 : 0;
    }
    return static_cast<double>(told) / repetitions;
  }

 private:
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
};

}  // namespace

TEST_SUITE("compare") {
  // Student, "The probable error of a mean", Biometrika 6 (1908): hours of sleep gained. Welch's
  // test on it is the worked example in the manual of the R language (`sleep`): t = −1.8608,
  // 17.776 degrees of freedom, p = 0.07939 (figures from memory, recomputed).
  TEST_CASE("Welch's test gives the published figures of Student's sleep data") {
    std::vector<double> const first{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0};
    std::vector<double> const second{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};
    Welch const result = welch(sample_of(second), sample_of(first));
    CHECK_NEAR(result.t, -1.8608, 5e-5);
    CHECK_NEAR(result.degrees_of_freedom, 17.776, 5e-4);
    CHECK_NEAR(result.p, 0.07939, 5e-6);
  }

  // NIST/SEMATECH, e-Handbook of Statistical Methods, 1.3.5.3: miles per gallon of 249 and 79 cars,
  // t = −12.94627, 136.8750 degrees of freedom (figures from memory, recomputed).
  TEST_CASE("Welch's test gives the published figures of the handbook's cars") {
    Sample const one{.prints = 249, .mean = 20.14458, .sd = 6.414700};
    Sample const other{.prints = 79, .mean = 30.48101, .sd = 6.107710};
    Welch const result = welch(other, one);
    CHECK_NEAR(result.t, -12.94627, 2e-5);
    CHECK_NEAR(result.degrees_of_freedom, 136.8750, 2e-4);
  }

  TEST_CASE("prints far apart give a verdict, and less is better") {
    std::vector<double> const soft{4.8, 5.3, 4.9}, stiff{1.7, 1.5, 1.6};
    Comparison const better = compare_builds(soft, stiff);
    CHECK((better.verdict == Verdict::better));
    CHECK((better.why == Why::tested));
    CHECK_FALSE(better.further);
    CHECK(std::abs(better.difference) > better.margin);
    CHECK_NEAR(better.difference, -3.4, 1e-12);
    CHECK((compare_builds(stiff, soft).verdict == Verdict::worse));
  }

  TEST_CASE("two builds within each other's scatter cannot be distinguished") {
    std::vector<double> const a{4.8, 5.3, 4.9}, b{4.7, 5.1, 4.9};
    Comparison const seen = compare_builds(a, b);
    CHECK((seen.verdict == Verdict::cannot_tell));
    CHECK((seen.why == Why::tested));
    CHECK(std::abs(seen.difference) < seen.margin);
    REQUIRE(seen.further);
    CHECK(seen.further->old_build == seen.further->new_build);
    CHECK(seen.further->old_build > 10);
  }

  TEST_CASE("one print of a build is never enough, however far apart") {
    std::vector<double> const one{5.0}, other{1.0}, two{1.0, 1.1}, none;
    Comparison const single = compare_builds(one, other);
    CHECK((single.verdict == Verdict::cannot_tell));
    CHECK((single.why == Why::too_few_prints));
    REQUIRE(single.further);
    CHECK(single.further->old_build == 1);
    CHECK(single.further->new_build == 1);
    Comparison const half = compare_builds(one, two);
    CHECK((half.verdict == Verdict::cannot_tell));
    CHECK(half.further->old_build == 1);
    CHECK(half.further->new_build == 0);
    CHECK((compare_builds(none, two).why == Why::nothing));
    CHECK(compare_builds(none, two).further->old_build == 2);
  }

  TEST_CASE("prints without any scatter say nothing about the next one") {
    std::vector<double> const a{5.0, 5.0, 5.0}, b{1.0, 1.0};
    Comparison const seen = compare_builds(a, b);
    CHECK((seen.verdict == Verdict::cannot_tell));
    CHECK((seen.why == Why::no_scatter));
    std::vector<double> const c{1.0, 1.1};
    CHECK((compare_builds(a, c).verdict == Verdict::better));
  }

  TEST_CASE("builds that are alike would take more prints than anyone makes") {
    std::vector<double> const a{4.0, 5.0, 6.0}, b{4.001, 5.0, 6.0};
    Comparison const seen = compare_builds(a, b);
    CHECK((seen.verdict == Verdict::cannot_tell));
    CHECK_FALSE(seen.further);
  }

  TEST_CASE("the chance to distinguish builds agrees with simulation") {
    Workshop workshop(7);
    struct Row {
      std::size_t prints;
      double difference, old_sd, new_sd;
    };
    for (Row const& row : {Row{3, 1.0, 0.3, 0.3},
                           Row{2, 1.0, 0.1, 0.2},
                           Row{6, 0.5, 0.2, 0.5},
                           Row{20, 0.3, 0.4, 0.2}}) {
      CAPTURE(row.prints);
      Sample const a{.prints = row.prints, .mean = 5, .sd = row.old_sd};
      Sample const b{.prints = row.prints, .mean = 5 - row.difference, .sd = row.new_sd};
      CHECK_NEAR(chance_to_tell(a, b), workshop.told_apart(a, b, 20'000), 0.015);
    }
  }

  TEST_CASE("so many further prints distinguish builds in 80 of 100 cases, fewer do not") {
    Workshop workshop(19);
    for (auto const& [a, b] :
         {std::pair{std::vector{4.8, 5.3, 4.9, 5.4}, std::vector{4.6, 4.9, 4.8, 4.3}},
          {std::vector{0.41, 0.50, 0.44}, std::vector{0.36, 0.45, 0.37, 0.41, 0.39}},
          {std::vector{2.0, 2.6, 2.2}, std::vector{2.1, 1.9, 1.8}},
          {std::vector{5.0, 5.6}, std::vector{4.0, 4.5}}}) {
      Comparison const seen = compare_builds(a, b);
      REQUIRE((seen.verdict == Verdict::cannot_tell));
      REQUIRE(seen.further);
      Sample old_build = seen.old_build, new_build = seen.new_build;
      old_build.prints += seen.further->old_build;
      new_build.prints += seen.further->new_build;
      CAPTURE(old_build.prints);
      CAPTURE(new_build.prints);
      double const enough = workshop.told_apart(old_build, new_build, 20'000);
      CHECK(enough > power - 0.015);
      CHECK(enough < power + 0.15);  // the step of one print at few prints
      std::size_t const fewer = std::max(old_build.prints, new_build.prints) - 1;
      old_build.prints = std::min(old_build.prints, fewer);
      new_build.prints = std::min(new_build.prints, fewer);
      CHECK(workshop.told_apart(old_build, new_build, 20'000) < power + 0.015);
    }
  }

  TEST_CASE("builds without a difference are called different in at most 5 of 100 cases") {
    Workshop workshop(23);
    Sample const a{.prints = 4, .mean = 5, .sd = 0.3}, b{.prints = 3, .mean = 5, .sd = 0.3};
    CHECK(workshop.told_apart(a, b, 20'000) < significance + 0.01);
  }

  TEST_CASE("each quantity of the prints is compared for itself") {
    BuildPrints const old_build{
        .run_on_mm3 = {4.8, 5.3, 4.9}, .lag_s = {}, .blob_mm3 = {0.4, 0.5}, .gap_mm = {2.0}};
    BuildPrints const new_build{
        .run_on_mm3 = {1.6, 1.7}, .lag_s = {}, .blob_mm3 = {0.4, 0.5}, .gap_mm = {1.0, 1.1}};
    BuildComparison const seen = compare_prints(old_build, new_build);
    CHECK((seen.run_on_mm3.verdict == Verdict::better));
    CHECK((seen.lag_s.why == Why::nothing));
    CHECK((seen.blob_mm3.verdict == Verdict::cannot_tell));
    CHECK((seen.gap_mm.why == Why::too_few_prints));
  }
}
