// SPDX-License-Identifier: MIT
#include "meltlag/judge/invariants.hpp"

#include <algorithm>
#include <utility>

namespace meltlag::judge {
namespace {

constexpr std::size_t most_in_words = 20, most_lines = 100000;

}  // namespace

void Violations::add(std::string text, std::int64_t line) {
  ++count_;
  if (line > 0 && lines_.size() < most_lines) lines_.push_back(line);
  if (first_.size() < most_in_words) first_.push_back(std::move(text));
}

void Violations::append(Violations const& more) {
  count_ += more.count_;
  auto const join = [](auto& to, auto const& from, std::size_t most) {
    std::size_t const room = most - std::min(most, to.size());
    to.insert(to.end(),
              from.begin(),
              from.begin() + static_cast<std::ptrdiff_t>(std::min(room, from.size())));
  };
  join(lines_, more.lines_, most_lines);
  join(first_, more.first_, most_in_words);
}

}  // namespace meltlag::judge
