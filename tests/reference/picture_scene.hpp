// SPDX-License-Identifier: MIT
/// What lies on the page, asked for point by point.
#pragma once

#include <random>
#include <vector>

#include "picture.hpp"

namespace meltlag_reference {

struct Flat {
  double x = 0, y = 0;
};

/// Colours of page and piece at a place of the page, mm from its middle, y down.
class Scene {
 public:
  Scene(const std::vector<BeadPlace>& bead, const PictureOptions& options);
  /// `pixel_mm`: what an edge is smeared over.
  Colour look(Flat page, double pixel_mm) const;
  std::vector<Fault> faults() const;

 private:
  struct Speck {
    Flat at;
    double radius = 0;
    Colour colour{};
  };
  struct Seen {  ///< the bead nearest to a point
    const BeadPlace* place = nullptr;
    std::size_t index = 0;
    double to_left_mm = 0;    ///< of its middle line
    double inside_mm = -1e9;  ///< from the nearer edge, > 0 within the bead
    bool left = false;        ///< that edge is the left one
  };
  Flat to_bed(Flat page) const;
  Flat to_page(Flat bed) const;
  Seen nearest(Flat bed) const;
  void index_bead();
  void index_blob(std::size_t i);
  void make_dust();
  Colour plastic(const Seen& seen, Flat page, const Colour& below) const;
  Colour paper(Flat page, double pixel_mm) const;
  double mark_cover(Flat page, double pixel_mm) const;
  double shadow(const Seen& seen) const;
  double lamp_cosine(const Seen& seen) const;
  void add_specks(Flat page, double pixel_mm, Colour& colour) const;

  const std::vector<BeadPlace>& bead_;
  PictureOptions options_;
  double cos_ = 1, sin_ = 0;
  std::vector<std::vector<std::uint32_t>> cells_;  ///< of 1 mm: places near
  std::vector<Speck> specks_;
  std::vector<std::vector<std::uint32_t>> speck_cells_;
  std::vector<std::uint8_t> granule_;  ///< of each place
};

}  // namespace meltlag_reference
