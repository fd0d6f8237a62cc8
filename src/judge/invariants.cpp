// SPDX-License-Identifier: MIT
#include "meltlag/judge/invariants.hpp"

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

}  // namespace meltlag::judge
