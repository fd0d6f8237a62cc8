// SPDX-License-Identifier: MIT
#include "meltlag/profile/load_test.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <vector>

#include "meltlag/base/error.hpp"

namespace meltlag::profile {
namespace {

constexpr double newtons_per_kg = 9.80665;  // standard gravity
constexpr char const* layout_hint =
    "the first line names the columns, for example: force_kg,deflection_mm";

struct Reading {
  double force_n, deflection_mm;
};

struct Cell {
  std::string_view text;
  std::int64_t column;
};

std::string_view stripped(std::string_view text) {
  std::size_t const first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

std::vector<Cell> split(std::string_view line, char separator) {
  std::vector<Cell> cells;
  std::size_t at = 0;
  while (true) {
    std::size_t const end = std::min(line.find(separator, at), line.size());
    cells.push_back({stripped(line.substr(at, end - at)), static_cast<std::int64_t>(at) + 1});
    if (end == line.size()) return cells;
    at = end + 1;
  }
}

struct Header {
  char separator;
  std::size_t force, deflection;
  double newtons_per_unit;
};

Header read_header(std::string_view line, Place const& place) {
  Header header{.separator = ',', .force = 0, .deflection = 0, .newtons_per_unit = 1};
  for (char const separator : {';', '\t'})
    if (line.find(separator) != std::string_view::npos) header.separator = separator;
  std::optional<std::size_t> force, deflection;
  std::vector<Cell> const cells = split(line, header.separator);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (cells[i].text == "force_n" || cells[i].text == "force_kg") force = i;
    if (cells[i].text == "deflection_mm") deflection = i;
  }
  if (!force || !deflection)
    throw Error(fmt::format("the load test has no column {}",
                            force ? "deflection_mm" : "force_n or force_kg"),
                place,
                layout_hint);
  header.force = *force;
  header.deflection = *deflection;
  if (cells[*force].text == "force_kg") header.newtons_per_unit = newtons_per_kg;
  return header;
}

double read_number(std::vector<Cell> const& cells, std::size_t index, Place place, char separator) {
  if (index >= cells.size())
    throw Error("this line of the load test has too few columns", place, layout_hint);
  std::string text{cells[index].text};
  // Spreadsheets that write a decimal comma part columns by something else.
  if (separator != ',') std::ranges::replace(text, ',', '.');
  double value = 0;
  auto const [stop, problem] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (problem == std::errc{} && stop == text.data() + text.size() && std::isfinite(value))
    return value;
  place.column = cells[index].column;
  throw Error(fmt::format("'{}' in the load test is not a number", cells[index].text),
              place,
              "correct the line");
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
  Place place{.file = name};
  std::optional<Header> header;
  std::vector<Reading> readings;
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  while (!text.empty()) {
    std::size_t const end = text.find('\n');
    std::string_view const line = text.substr(0, end);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    ++place.line;
    place.column = 1;
    if (stripped(line).empty() || stripped(line).starts_with('#')) continue;
    if (!header) {
      header = read_header(line, place);
      continue;
    }
    std::vector<Cell> const cells = split(line, header->separator);
    double const force = read_number(cells, header->force, place, header->separator);
    double const deflection = read_number(cells, header->deflection, place, header->separator);
    readings.push_back({force * header->newtons_per_unit, deflection});
  }
  if (!header) throw Error("the load test is empty", {.file = name}, layout_hint);
  return fit(readings, name);
}

}  // namespace meltlag::profile
