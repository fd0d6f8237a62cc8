// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "meltlag/calibrate/ring_piece.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::calibrate::rings {

// What printing on film or paper adds to the usual cautions.
[[nodiscard]] std::vector<std::string> const& sheet_cautions();

// Comments in front of the start code. Facts of `piece` that are not known yet are 0.
void write_ring_head(piece::Writer& writer,
                     PieceOptions const& options,
                     RingPiece const& piece,
                     piece::Speeds const& speeds,
                     piece::Bead const& bead);

}  // namespace meltlag::calibrate::rings
