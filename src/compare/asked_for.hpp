// SPDX-License-Identifier: MIT
// What a file asks for along its way, whatever comes out.
#pragma once

#include <span>
#include <vector>

#include "program_walk.hpp"

namespace meltlag::compare {

// Length of the head's whole way, mm.
[[nodiscard]] double way_of(std::string const& path,
                            ProgramOptions const& options,
                            Notices& notices);
// Volume that printing moves ask for from the beginning until each place; `ways_mm` ascending.
[[nodiscard]] std::vector<double> asked_until(std::string const& path,
                                              std::span<double const> ways_mm,
                                              ProgramOptions const& options,
                                              Notices& notices);

}  // namespace meltlag::compare
