// SPDX-License-Identifier: MIT
// Drawing the page that the ring piece lies on (testpiece/ring_page.hpp says what is where).
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace meltlag::page {

enum class Paper : std::uint8_t { a4, letter };

// "black", "white", "blue", … or "#1f3fd0" as a colour of SVG. Throws Error for another word.
[[nodiscard]] std::string background_colour(std::string_view name);

// The page as SVG at 1:1. `background` as background_colour() takes it.
[[nodiscard]] std::string make_ring_page(Paper paper, std::string_view background);

}  // namespace meltlag::page
