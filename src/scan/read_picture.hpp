// SPDX-License-Identifier: MIT
// The steps that all pieces share: page, field, how the piece lies, colours across its beads,
// edges.
#pragma once

#include <array>
#include <string>

#include "bead_reader.hpp"
#include "meltlag/scan/widths.hpp"

namespace meltlag::scan {

struct ReadPicture {
  std::string path;
  Reduced reduced;
  Metric metric;
  double contrast = 0;  // of the field
  Pose pose;
  Profiles profiles;
  std::string faint_path;  // of the other picture, where nothing stood out in it
};

using FindPose = Pose (*)(Field const&, Trail const&, std::string const& path);

// Throws Error naming the picture at fault.
[[nodiscard]] ReadPicture read_picture(std::string const& path,
                                       Trail const& trail,
                                       FindPose find,
                                       ScanOptions const& options);

// Two pictures of one piece, on a black and on a white page, in any order, as one: both colours at
// each place. What does not change from page to page is plastic; on the way from the background's
// two colours to the bead's two, the picture in which a bead stands out counts most. All else is
// the first one's, and where nothing stands out in one but shadows, the other alone is read. Throws
// Error also where the pages look alike.
[[nodiscard]] ReadPicture read_two_pictures(std::array<std::string, 2> const& paths,
                                            Trail const& trail,
                                            FindPose find,
                                            ScanOptions const& options);

[[nodiscard]] ReadBead read_bead(ReadPicture const& picture,
                                 Trail const& trail,
                                 ScanOptions const& options);

}  // namespace meltlag::scan
