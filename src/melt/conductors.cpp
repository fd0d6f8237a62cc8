// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>

#include "meltlag/melt/heat_barrier.hpp"

namespace meltlag::melt {
namespace {

// "Incropera" is Incropera and DeWitt, "Fundamentals of Heat and Mass Transfer", table A.1, 300 to
// 600 K. What is marked so was written down from memory.
constexpr auto known = std::to_array<Conductor>({
    {"stainless", 16, 13, 20, "Incropera, AISI 304 and 316; EN ISO 10456: 17 (from memory)"},
    {"steel", 50, 40, 64, "EN ISO 10456; Incropera, plain carbon steels 48 to 64 (from memory)"},
    {"aluminium", 167, 120, 237, "6061-T6 to pure, open material cards; EN ISO 10456: 160"},
    {"copper", 398, 379, 401, "open material cards; Incropera (from memory)"},
    {"brass", 120, 105, 149, "EN ISO 10456; Incropera, cartridge brass (from memory)"},
    {"titanium", 21, 19, 22, "Incropera, pure (from memory)"},
    {"titanium alloy", 7, 6.5, 9, "data sheets of Ti-6Al-4V (from memory)"},
    {"ptfe", 0.26, 0.23, 0.27, "open material cards; EN ISO 10456: 0.25"},
    {"peek", 0.27, 0.25, 0.32, "data sheets (from memory)"},
});

}  // namespace

std::span<Conductor const> conductors() { return known; }

Conductor const* find_conductor(std::string_view name) {
  auto const found = std::ranges::find(known, name, &Conductor::name);
  return found == known.end() ? nullptr : &*found;
}

}  // namespace meltlag::melt
