// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string_view>

namespace meltlag::report {

// Takes text piece by piece.
using Out = std::function<void(std::string_view)>;

}  // namespace meltlag::report
