// SPDX-License-Identifier: MIT
#include "meltlag/profile/load_test.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/base/sheet.hpp"

namespace meltlag::profile {
namespace {

constexpr char const* layout_hint =
    "the first line names the columns, for example: force_kg,deflection_mm";

struct LoadReading {
  double force_n, deflection_mm;
  bool unloads = false;
};

Sheet parse_table(std::string_view text, std::string const& name) {
  Sheet sheet = Sheet::parse(text, name);
  constexpr std::string_view deflection = "deflection_mm";
  sheet.require({&deflection, 1});
  if (sheet.has("force_n") == sheet.has("force_kg"))
    throw Error(sheet.has("force_n") ? "the load test has both force_n and force_kg"
                                     : "the load test has no column force_n or force_kg",
                {.file = name},
                layout_hint);
  return sheet;
}

double value_at(Sheet const& sheet,
                std::size_t row,
                std::string_view column,
                std::string_view unit) {
  auto const value = sheet.number(row, column, {&unit, 1});
  if (value) return *value;
  throw Error(fmt::format("{} is missing in this row of the load test", column),
              sheet.place(row, column),
              layout_hint);
}

// Readings of one direction, about their means.
struct Sums {
  int count = 0;
  double force_n = 0, deflection_mm = 0;  // means
  double ff = 0, fd = 0;                  // squares and products of deviations
};

Sums sum_up(std::vector<LoadReading> const& readings) {
  Sums sums{.count = static_cast<int>(readings.size())};
  for (LoadReading const& r : readings) {
    sums.force_n += r.force_n / sums.count;
    sums.deflection_mm += r.deflection_mm / sums.count;
  }
  for (LoadReading const& r : readings) {
    double const f = r.force_n - sums.force_n, d = r.deflection_mm - sums.deflection_mm;
    sums.ff += f * f;
    sums.fd += f * d;
  }
  return sums;
}

double residual_squares(std::vector<LoadReading> const& readings,
                        Sums const& sums,
                        double mm_per_n) {
  double squares = 0;
  for (LoadReading const& r : readings)
    squares +=
        std::pow(r.deflection_mm - sums.deflection_mm - mm_per_n * (r.force_n - sums.force_n), 2);
  return squares;
}

double deviation(double squares, int freedom) {
  return freedom > 0 ? std::sqrt(squares / freedom) : 0;
}

std::optional<LoadBranch> fit_branch(std::vector<LoadReading> const& readings, Sums const& sums) {
  if (!(sums.ff > 0) || !(sums.fd > 0)) return std::nullopt;
  double const mm_per_n = sums.fd / sums.ff;
  int const freedom = sums.count - 2;
  double const slope_sd =
      deviation(residual_squares(readings, sums, mm_per_n), freedom) / std::sqrt(sums.ff);
  return LoadBranch{.readings = sums.count,
                    .n_per_mm = 1 / mm_per_n,
                    .n_per_mm_sd = slope_sd / (mm_per_n * mm_per_n),
                    .freedom = freedom};
}

// Work done on the part in each direction, by trapezoids; nothing where the force did not come
// back.
std::optional<double> lost_share(std::vector<LoadReading> const& readings) {
  double in = 0, out = 0, most = readings.front().force_n;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    LoadReading const &a = readings[i - 1], &b = readings[i];
    double const work = (a.force_n + b.force_n) / 2 * (b.deflection_mm - a.deflection_mm);
    (b.unloads ? out : in) += work;
    most = std::max(most, b.force_n);
  }
  double const left_over = readings.back().force_n - readings.front().force_n;
  bool const came_back = std::abs(left_over) <= 0.02 * (most - readings.front().force_n);
  if (!came_back || !(in > 0)) return std::nullopt;
  return (in + out) / in;
}

void tell_directions(std::vector<LoadReading>& readings) {
  for (std::size_t i = 1; i < readings.size(); ++i) {
    double const step = readings[i].force_n - readings[i - 1].force_n;
    readings[i].unloads = step < 0 || (step == 0 && readings[i - 1].unloads);
  }
}

LoadTest fit(std::vector<LoadReading> const& readings, std::string const& name) {
  std::vector<LoadReading> up, down;
  for (LoadReading const& r : readings) (r.unloads ? down : up).push_back(r);
  Sums const rising = sum_up(up), falling = sum_up(down);
  Sums const both{.ff = rising.ff + falling.ff, .fd = rising.fd + falling.fd};
  if (!(both.ff > 0))
    throw Error("the load test needs readings at two different forces or more",
                {.file = name},
                layout_hint);
  double const mm_per_n = both.fd / both.ff;
  if (!(mm_per_n > 0))
    throw Error("in the load test the deflection does not grow with the force",
                {.file = name},
                "deflections count positive in the direction of the force");
  auto const count = static_cast<int>(readings.size());
  int const freedom = std::max(0, count - (down.empty() ? 2 : 3));
  double const scatter = deviation(
      residual_squares(up, rising, mm_per_n) + residual_squares(down, falling, mm_per_n), freedom);
  LoadTest test{.n_per_mm = 1 / mm_per_n,
                .n_per_mm_sd = scatter / std::sqrt(both.ff) / (mm_per_n * mm_per_n),
                .offset_mm = rising.deflection_mm - mm_per_n * rising.force_n,
                .readings = count,
                .freedom = freedom,
                .loading = fit_branch(up, rising),
                .unloading = fit_branch(down, falling)};
  if (falling.count < 2) return test;
  double const between_n = falling.force_n - rising.force_n;
  double const width_mm = falling.deflection_mm - rising.deflection_mm - mm_per_n * between_n;
  test.hysteresis = {
      .deflection_mm = width_mm,
      .deflection_mm_sd = scatter * std::sqrt(1.0 / rising.count + 1.0 / falling.count +
                                              between_n * between_n / both.ff),
      .force_n = width_mm / mm_per_n,
      .energy_share = lost_share(readings)};
  return test;
}

}  // namespace

LoadTest read_load_test(std::string_view text, std::string const& name) {
  Sheet const sheet = parse_table(text, name);
  bool const kilograms = sheet.has("force_kg");
  std::vector<LoadReading> readings;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    double const force_n = kilograms ? newtons_per_kg * value_at(sheet, row, "force_kg", "kg")
                                     : value_at(sheet, row, "force_n", "N");
    readings.push_back({force_n, value_at(sheet, row, "deflection_mm", "mm")});
  }
  tell_directions(readings);
  return fit(readings, name);
}

}  // namespace meltlag::profile
