// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace meltlag::profile {

// The directory of the shipped profiles, known by its materials/: ../share/meltlag/profiles beside
// the program's own directory where it is installed, else profiles/ in one of the four directories
// above the program, as in a build tree. Empty where there is none.
[[nodiscard]] std::string find_share_dir(std::string const& program_path);

}  // namespace meltlag::profile
