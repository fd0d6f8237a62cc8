// SPDX-License-Identifier: MIT
#include "inspection_codes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <string_view>

namespace meltlag::adapt {
namespace {

constexpr double largest_code = 1e6;
constexpr std::string_view axis_letters = "XYZEF";
constexpr int modelled_g[] = {0, 1, 2, 3, 4, 10, 11, 17, 18, 19, 20, 21, 28, 29, 90, 91, 92};
constexpr int modelled_m[] = {
    0, 1, 82, 83, 104, 109, 190, 200, 201, 203, 204, 205, 207, 208, 220, 221, 400, 600};

Handling handling_of(char letter, int tenfold) {
  if (letter == 'T') return Handling::modelled;
  if (letter == 0 || tenfold % 10 != 0) return Handling::passes_through;
  auto const is_in = [&](auto const& codes) {
    return std::binary_search(std::begin(codes), std::end(codes), tenfold / 10);
  };
  bool const known = letter == 'G' ? is_in(modelled_g) : is_in(modelled_m);
  return known ? Handling::modelled : Handling::passes_through;
}

std::string name_of_code(char letter, int tenfold) {
  if (letter == 0) return "other";
  if (letter == 'T') return "T";
  return tenfold % 10 == 0 ? fmt::format("{}{}", letter, tenfold / 10)
                           : fmt::format("{}{}.{}", letter, tenfold / 10, tenfold % 10);
}

}  // namespace

void CodeTable::count(gcode::Block const& block) {
  if (block.block_delete) return;
  if (block.words.empty()) {
    if (block.bad_column != 0) ++counts_[{0, 0}];
    return;
  }
  gcode::Word const& word = block.words[0];
  bool const code = word.letter == 'G' || word.letter == 'M' || word.letter == 'T';
  if (code && word.has_value && std::abs(word.value) < largest_code) {
    int const tenfold = word.letter == 'T' ? 0 : static_cast<int>(std::lround(10 * word.value));
    if (word.letter == 'G' && tenfold >= 0 && tenfold <= 30) motion_ = tenfold / 10;
    ++counts_[{word.letter, tenfold}];
  } else if (word.has_value && axis_letters.find(word.letter) != std::string_view::npos) {
    ++counts_[{'G', 10 * motion_}];
  } else {
    ++counts_[{0, 0}];
  }
}

std::vector<CodeCount> CodeTable::list() const {
  std::vector<CodeCount> out;
  for (auto const& [code, lines] : counts_) {
    out.push_back(
        {name_of_code(code.first, code.second), lines, handling_of(code.first, code.second)});
  }
  // What is no code at all comes last.
  std::stable_partition(
      out.begin(), out.end(), [](CodeCount const& code) { return code.code != "other"; });
  return out;
}

}  // namespace meltlag::adapt
