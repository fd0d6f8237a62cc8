// SPDX-License-Identifier: MIT
#include "meltlag/adapt/invariants.hpp"

#include <utility>

namespace meltlag::adapt {
namespace {

constexpr std::size_t most_in_words = 20;

}  // namespace

void Violations::add(std::string text) {
  ++count_;
  if (first_.size() < most_in_words) first_.push_back(std::move(text));
}

}  // namespace meltlag::adapt
