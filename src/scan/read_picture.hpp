// SPDX-License-Identifier: MIT
// The steps that all pieces share: page, field, how the piece lies, colours across its beads,
// edges.
#pragma once

#include <string>

#include "bead_reader.hpp"
#include "meltlag/scan/widths.hpp"

namespace meltlag::scan {

struct ReadPicture {
  Reduced reduced;
  Metric metric;
  double contrast = 0;  // of the field
  Pose pose;
  Profiles profiles;
};

using FindPose = Pose (*)(Field const&, Trail const&, std::string const& path);

// Throws Error naming the picture at fault.
[[nodiscard]] ReadPicture read_picture(std::string const& path,
                                       Trail const& trail,
                                       FindPose find,
                                       ScanOptions const& options);

[[nodiscard]] ReadBead read_bead(ReadPicture const& picture,
                                 Trail const& trail,
                                 ScanOptions const& options);

}  // namespace meltlag::scan
