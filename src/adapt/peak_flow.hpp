// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "meltlag/adapt/adapt.hpp"

namespace meltlag::adapt {

// The greatest flow that the file asks for while printing, mm³/s of what is wanted. Reads the whole file.
[[nodiscard]] double peak_flow(std::string const& path, AdaptOptions const& options);

}  // namespace meltlag::adapt
