// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "meltlag/testpiece/drawn.hpp"
#include "meltlag/testpiece/ring_piece.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece::rings {

// Comments in front of the start code. Facts of `piece` that are not known yet are 0.
void write_ring_head(piece::Writer& writer,
                     PieceOptions const& options,
                     RingPiece const& piece,
                     piece::Speeds const& speeds,
                     piece::Bead const& bead);

}  // namespace meltlag::testpiece::rings
