// SPDX-License-Identifier: MIT
// The printed test piece as the commands that read its measurements see it.
#pragma once

#include <string>

#include "meltlag/profile/profile.hpp"
#include "meltlag/reading/reading.hpp"

namespace meltlag::cli {

// Reads a test piece's G-code with the profile's machine. Throws Error for what cannot be read.
[[nodiscard]] reading::PrintedPath printed_path(std::string const& file,
                                                profile::Profile const& profile);

}  // namespace meltlag::cli
