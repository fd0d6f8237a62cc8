// SPDX-License-Identifier: MIT
#include "meltlag/compare/ticks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

#include "meltlag/base/error.hpp"
#include "meltlag/base/text.hpp"

namespace meltlag::compare {
namespace {

constexpr std::array<std::string_view, 6> yes{"YES", "Y", "X", "1", "✓", "TRUE"};
constexpr std::array<std::string_view, 5> no{"NO", "N", "-", "0", "FALSE"};

template <class Words>
bool is_one_of(std::string_view text, Words const& words) {
  return std::ranges::any_of(words, [&](std::string_view word) {
    return text.size() == word.size() && contains_ignoring_case(text, word);
  });
}

std::optional<bool> tick(Sheet const& sheet, std::size_t row) {
  std::string_view const text = sheet.text(row, "seen");
  if (text.empty()) return {};
  if (is_one_of(text, yes)) return true;
  if (is_one_of(text, no)) return false;
  throw Error(fmt::format("'{}' is neither yes nor no", text),
              sheet.place(row, "seen"),
              "write yes or no, and nothing where you could not see it");
}

}  // namespace

double coin_chance(std::size_t hits, std::size_t of) {
  double sum = 0;
  auto const n = static_cast<double>(of);
  for (std::size_t k = hits; k <= of; ++k) {
    auto const i = static_cast<double>(k);
    sum += std::exp(std::lgamma(n + 1) - std::lgamma(i + 1) - std::lgamma(n - i + 1) -
                    n * std::log(2.0));
  }
  return std::min(1.0, sum);
}

Ticks count_ticks(Sheet const& sheet) {
  constexpr std::array<std::string_view, 2> columns{"place", "seen"};
  sheet.require(columns);
  std::size_t hits = 0, of = 0;
  for (std::size_t row = 0; row < sheet.rows(); ++row) {
    auto const seen = tick(sheet, row);
    if (!seen) continue;
    ++of;
    hits += *seen ? 1 : 0;
  }
  if (of == 0)
    throw Error("no row is ticked",
                {.file = sheet.name()},
                "write yes or no into the column 'seen' of each place that you looked at");
  return {
      .rate = hit_rate(hits, of), .open = sheet.rows() - of, .by_chance = coin_chance(hits, of)};
}

}  // namespace meltlag::compare
