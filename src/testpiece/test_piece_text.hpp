// SPDX-License-Identifier: MIT
// What stands before and after the moves: cautions, facts, start and end code.
#pragma once

#include "meltlag/testpiece/drawn.hpp"
#include "meltlag/testpiece/test_piece.hpp"
#include "test_piece_settings.hpp"
#include "test_piece_writer.hpp"

namespace meltlag::testpiece::piece {

// Facts of `piece` that are known before its moves are written have to be filled in.
void write_head(Writer& writer,
                PieceOptions const& options,
                TestPiece const& piece,
                Speeds const& speeds,
                Bead const& bead);
void write_start(Writer& writer, PieceOptions const& options, Speeds const& speeds);
void write_end(Writer& writer, PieceOptions const& options, Speeds const& speeds);

}  // namespace meltlag::testpiece::piece
