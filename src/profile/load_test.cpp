// SPDX-License-Identifier: MIT
#include "meltlag/profile/load_test.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "meltlag/base/error.hpp"
#include "meltlag/base/sheet.hpp"

namespace meltlag::profile {
namespace {

constexpr double newtons_per_kg = 9.80665;  // standard gravity
constexpr char const* layout_hint =
    "the first line names the columns, for example: force_kg,deflection_mm";

struct Reading {
  double force_n, deflection_mm;
};

Sheet parse(std::string_view text, std::string const& name) {
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

double number(Sheet const& sheet, std::size_t row, std::string_view column, std::string_view unit) {
  auto const value = sheet.number(row, column, {&unit, 1});
  if (value) return *value;
  throw Error(fmt::format("{} is missing in this row of the load test", column),
              sheet.place(row, column),
              layout_hint);
}

LoadTest fit(std::vector<Reading> const& readings, std::string const& name) {
  auto const count = static_cast<double>(readings.size());
  double mean_force = 0, mean_deflection = 0;
  for (Reading const& r : readings) {
    mean_force += r.force_n / count;
    mean_deflection += r.deflection_mm / count;
  }
  double force_spread = 0, product = 0;
  for (Reading const& r : readings) {
    force_spread += (r.force_n - mean_force) * (r.force_n - mean_force);
    product += (r.force_n - mean_force) * (r.deflection_mm - mean_deflection);
  }
  if (!(force_spread > 0))
    throw Error("the load test needs readings at two different forces or more",
                {.file = name},
                layout_hint);
  double const mm_per_n = product / force_spread;
  if (!(mm_per_n > 0))
    throw Error("in the load test the deflection does not grow with the force",
                {.file = name},
                "deflections count positive in the direction of the force");
  double const offset = mean_deflection - mm_per_n * mean_force;
  double residual = 0;
  for (Reading const& r : readings)
    residual += std::pow(r.deflection_mm - offset - mm_per_n * r.force_n, 2);
  double const slope_sd = count > 2 ? std::sqrt(residual / (count - 2) / force_spread) : 0.0;
  return {.n_per_mm = 1 / mm_per_n,
          .n_per_mm_sd = slope_sd / (mm_per_n * mm_per_n),
          .offset_mm = offset,
          .readings = static_cast<int>(readings.size())};
}

}  // namespace

LoadTest read_load_test(std::string_view text, std::string const& name) {
  Sheet const sheet = parse(text, name);
  bool const kilograms = sheet.has("force_kg");
  std::vector<Reading> readings;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    double const force_n = kilograms ? newtons_per_kg * number(sheet, row, "force_kg", "kg")
                                     : number(sheet, row, "force_n", "N");
    readings.push_back({force_n, number(sheet, row, "deflection_mm", "mm")});
  }
  return fit(readings, name);
}

}  // namespace meltlag::profile
