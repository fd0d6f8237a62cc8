// SPDX-License-Identifier: MIT
// What a drawing of a piece shows beside the piece itself.
#pragma once

#include <string>
#include <vector>

namespace meltlag::testpiece {
namespace piece {

inline constexpr double side_mm = 100;  // the piece fits a square of this side

// How far a mark of the ruler sticks out, mm.
[[nodiscard]] double mark_mm(int place_mm);

// The cautions as sentences, for G-code and map alike.
[[nodiscard]] std::vector<std::string> const& cautions();

}  // namespace piece

namespace rings {

// What printing on film or paper adds to the usual cautions.
[[nodiscard]] std::vector<std::string> const& sheet_cautions();

}  // namespace rings
}  // namespace meltlag::testpiece
