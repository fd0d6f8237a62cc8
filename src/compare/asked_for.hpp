// SPDX-License-Identifier: MIT
// What a file asks for along its way, whatever comes out.
#pragma once

#include <span>
#include <vector>

#include "meltlag/motion/walk.hpp"

namespace meltlag::compare {

// Length of the head's whole way, mm.
[[nodiscard]] double way_of(std::string const& path,
                            motion::WalkOptions const& options,
                            Notices& notices);
// Volume that printing moves ask for from the beginning until each place; `ways_mm` ascending.
[[nodiscard]] std::vector<double> asked_until(std::string const& path,
                                              std::span<double const> ways_mm,
                                              motion::WalkOptions const& options,
                                              Notices& notices);

}  // namespace meltlag::compare
