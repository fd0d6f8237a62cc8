// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"
#include "meltlag/fit/feed_verdict.hpp"
#include "meltlag/fit/store.hpp"

namespace meltlag::fit {
namespace {

using Units = std::span<std::string_view const>;

constexpr std::array<std::string_view, 2> flow_units{"mm3/s", "mm³/s"};
constexpr std::array<std::string_view, 2> volume_units{"mm3", "mm³"};
constexpr std::array<std::string_view, 1> mass_units{"g"};
constexpr std::array<std::string_view, 1> speed_units{"mm/s"};
constexpr std::array<std::string_view, 1> time_units{"s"};
constexpr std::array<std::string_view, 2> rise_units{"mm3/s2", "mm³/s²"};

double positive(Sheet const& sheet, std::size_t row, std::string_view column, Units units) {
  auto const value = sheet.number(row, column, units);
  if (!value)
    throw Error(fmt::format("{} is missing in this row", column),
                sheet.place(row, column),
                "copy it from the sheet as it was written");
  if (!(*value > 0))
    throw Error(fmt::format("{} is {:g}", column, *value),
                sheet.place(row, column),
                "it must be above 0; leave the whole row out where there is nothing to say");
  return *value;
}

int whole(Sheet const& sheet, std::size_t row, std::string_view column) {
  double const value = positive(sheet, row, column, {});
  if (value != std::floor(value) || value > 1e6)
    throw Error(fmt::format("{} is {:g}, no whole number", column, value),
                sheet.place(row, column),
                "copy it from the sheet as it was written");
  return static_cast<int>(value);
}

// A whole number that no row before had.
int number_of(Sheet const& sheet, std::size_t row, std::string_view column, std::set<int>& taken) {
  int const number = whole(sheet, row, column);
  if (!taken.insert(number).second)
    throw Error(fmt::format("{} {} is given twice", column, number),
                sheet.place(row, column),
                "take one of the two rows out");
  return number;
}

bool means_no_fault(std::string_view result) {
  return std::ranges::any_of(
      std::array<std::string_view, 4>{"OK", "GOOD", "FINE", "PASSED"}, [&](std::string_view word) {
        return result.size() == word.size() && contains_ignoring_case(result, word);
      });
}

testpiece::Direction direction_of(Sheet const& sheet, std::size_t row) {
  std::string_view const word = sheet.text(row, "direction");
  if (contains_ignoring_case(word, "FORWARD")) return testpiece::Direction::forward;
  if (contains_ignoring_case(word, "REVERSE")) return testpiece::Direction::reverse;
  throw Error(fmt::format("'{}' is no direction", word),
              sheet.place(row, "direction"),
              "write forward or reverse");
}

}  // namespace

std::vector<CupReading> read_cups(Sheet const& sheet) {
  constexpr std::array<std::string_view, 4> columns{"cup", "flow_mm3_s", "commanded_mm3", "mass_g"};
  sheet.require(columns);
  std::vector<CupReading> cups;
  std::set<int> taken;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    if (sheet.text(row, "mass_g").empty()) continue;
    cups.push_back({.number = number_of(sheet, row, "cup", taken),
                    .flow_mm3_s = positive(sheet, row, "flow_mm3_s", flow_units),
                    .commanded_mm3 = positive(sheet, row, "commanded_mm3", volume_units),
                    .mass_g = positive(sheet, row, "mass_g", mass_units),
                    .row = row});
  }
  std::ranges::sort(cups, {}, &CupReading::number);
  return cups;
}

std::vector<StoreReading> read_store_cups(Sheet const& sheet) {
  constexpr std::array<std::string_view, 8> columns{"cup",
                                                    "bursts",
                                                    "flow_mm3_s",
                                                    "burst_mm3_s",
                                                    "burst_s",
                                                    "rise_mm3_s2",
                                                    "commanded_mm3",
                                                    "mass_g"};
  sheet.require(columns);
  std::vector<StoreReading> cups;
  std::set<int> taken;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    if (sheet.text(row, "mass_g").empty()) continue;
    bool const no_burst = sheet.number(row, "burst_s", time_units) == 0;
    cups.push_back({.cup = {.number = number_of(sheet, row, "cup", taken),
                            .bursts = whole(sheet, row, "bursts"),
                            .flow_mm3_s = positive(sheet, row, "flow_mm3_s", flow_units),
                            .burst_mm3_s = positive(sheet, row, "burst_mm3_s", flow_units),
                            .burst_s = no_burst ? 0 : positive(sheet, row, "burst_s", time_units),
                            .rise_mm3_s2 = positive(sheet, row, "rise_mm3_s2", rise_units),
                            .commanded_mm3 = positive(sheet, row, "commanded_mm3", volume_units)},
                    .mass_g = positive(sheet, row, "mass_g", mass_units),
                    .row = row});
  }
  std::ranges::sort(cups, {}, [](StoreReading const& reading) { return reading.cup.number; });
  return cups;
}

std::vector<BurstReading> read_bursts(Sheet const& sheet) {
  constexpr std::array<std::string_view, 5> columns{
      "burst", "direction", "flow_mm3_s", "e_mm_s", "result"};
  sheet.require(columns);
  std::vector<BurstReading> bursts;
  std::set<int> taken;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    std::string_view const result = sheet.text(row, "result");
    if (result.empty()) continue;
    bursts.push_back({.burst = {.number = number_of(sheet, row, "burst", taken),
                                .direction = direction_of(sheet, row),
                                .flow_mm3_s = positive(sheet, row, "flow_mm3_s", flow_units),
                                .e_mm_s = positive(sheet, row, "e_mm_s", speed_units)},
                      .fault = !means_no_fault(result)});
  }
  std::ranges::sort(bursts, {}, [](BurstReading const& b) { return b.burst.e_mm_s; });
  return bursts;
}

}  // namespace meltlag::fit
