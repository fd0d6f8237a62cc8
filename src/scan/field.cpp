// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/ring_page.hpp"
#include "pose.hpp"

namespace meltlag::scan {
namespace {

constexpr double block_mm = 14;              // of the background's own brightness
constexpr double least_field_contrast = 14;  // levels of 255
constexpr double least_of_beads = 1 / 3.0;   // of the beads' area, that are as unlike as beads are
constexpr double most_area_share = 0.21;     // of the field: what rings cover
constexpr double field_mm2 = 26000;

using FieldColour = std::array<double, 3>;

class FieldMaker {
 public:
  FieldMaker(Reduced const& reduced, Metric const& metric, double bead_mm2, double shadow_share)
      : reduced_(reduced),
        metric_(metric),
        shadow_share_(shadow_share),
        percentile_(1 - least_of_beads * std::min(most_area_share, bead_mm2 / field_mm2)) {
    side_ = static_cast<int>(2 * Field::half_mm / Field::step_mm) + 1;
    blocks_ = static_cast<int>(std::ceil(2 * Field::half_mm / block_mm));
  }

  Field make() {
    sample();
    find_background();
    Field field;
    field.side = side_;
    std::vector<double> known;
    for (int y = 0; y < side_; ++y)
      for (int x = 0; x < side_; ++x) {
        double const off = inside(x, y) ? unlike(x, y) : 0;
        field.plastic.push_back(static_cast<float>(off));
        if (inside(x, y)) known.push_back(off);
      }
    auto const bead = known.begin() + static_cast<std::ptrdiff_t>(
                                          percentile_ * (static_cast<double>(known.size()) - 1));
    std::nth_element(known.begin(), bead, known.end());
    field.contrast = *bead;
    for (float& value : field.plastic)
      value = std::min(1.5F, value / static_cast<float>(std::max(1.0, field.contrast)));
    return field;
  }

 private:
  [[nodiscard]] Place2 page(int x, int y) const {
    return {x * Field::step_mm - Field::half_mm, y * Field::step_mm - Field::half_mm};
  }
  [[nodiscard]] bool inside(int x, int y) const {
    return norm(page(x, y)) < testpiece::ring_page::field_radius_mm - 1;
  }
  [[nodiscard]] std::size_t index(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(side_) +
           static_cast<std::size_t>(x);
  }

  void sample() {
    Picture const& picture = reduced_.picture;
    double const f = reduced_.factor;
    colours_.resize(index(0, side_));
    for (int y = 0; y < side_; ++y)
      for (int x = 0; x < side_; ++x) {
        Place2 const p = metric_.pixel(page(x, y));
        int const px = std::clamp(static_cast<int>(p.x / f), 0, picture.width - 1);
        int const py = std::clamp(static_cast<int>(p.y / f), 0, picture.height - 1);
        std::copy_n(picture.at(px, py), 3, colours_[index(x, y)].begin());
      }
  }

  // Of each block the median of every channel: beads cover a quarter of the field.
  void find_background() {
    int const step = static_cast<int>(block_mm / Field::step_mm);
    for (int by = 0; by < blocks_; ++by)
      for (int bx = 0; bx < blocks_; ++bx) {
        std::array<std::vector<std::uint8_t>, 3> all;
        for (int y = by * step; y < std::min(side_, (by + 1) * step); ++y)
          for (int x = bx * step; x < std::min(side_, (bx + 1) * step); ++x)
            if (inside(x, y))
              for (std::size_t c = 0; c < 3; ++c) all[c].push_back(colours_[index(x, y)][c]);
        FieldColour middle{-1, -1, -1};
        if (all[0].size() > 400)
          for (std::size_t c = 0; c < 3; ++c) {
            auto const half = all[c].begin() + static_cast<std::ptrdiff_t>(all[c].size() / 2);
            std::nth_element(all[c].begin(), half, all[c].end());
            middle[c] = *half;
          }
        background_.push_back(middle);
      }
  }

  // Between the blocks' middles, as far as they are known.
  [[nodiscard]] FieldColour background(int x, int y) const {
    double const step = block_mm / Field::step_mm;
    double const bx = x / step - 0.5, by = y / step - 0.5;
    FieldColour sum{0, 0, 0};
    double weights = 1e-12;
    for (int k = 0; k < 2; ++k)
      for (int i = 0; i < 2; ++i) {
        double const fx = std::floor(bx) + i, fy = std::floor(by) + k;
        int const cx = std::clamp(static_cast<int>(fx), 0, blocks_ - 1);
        int const cy = std::clamp(static_cast<int>(fy), 0, blocks_ - 1);
        FieldColour const& there = background_[static_cast<std::size_t>(cy * blocks_ + cx)];
        if (there[0] < 0) continue;
        double const weight = (1 - std::abs(bx - fx)) * (1 - std::abs(by - fy)) + 1e-6;
        for (std::size_t c = 0; c < 3; ++c) sum[c] += weight * there[c];
        weights += weight;
      }
    for (double& channel : sum) channel /= weights;
    return sum;
  }

  [[nodiscard]] double unlike(int x, int y) const {
    FieldColour const back = background(x, y);
    std::array<std::uint8_t, 3> const& here = colours_[index(x, y)];
    double sum = 0, page = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      sum += (here[c] - back[c]) * (here[c] - back[c]);
      page += back[c] * back[c];
    }
    return std::max(0.0, std::sqrt(sum) - shadow_share_ * std::sqrt(page));
  }

  Reduced const& reduced_;
  Metric const& metric_;
  double shadow_share_, percentile_;
  int side_ = 0, blocks_ = 0;
  std::vector<std::array<std::uint8_t, 3>> colours_;
  std::vector<FieldColour> background_;
};

}  // namespace

double Field::at(Place2 page) const {
  double const x = (page.x + half_mm) / step_mm, y = (page.y + half_mm) / step_mm;
  int const ix = static_cast<int>(std::floor(x)), iy = static_cast<int>(std::floor(y));
  if (ix < 0 || iy < 0 || ix + 1 >= side || iy + 1 >= side) return 0;
  double const fx = x - ix, fy = y - iy;
  auto const value = [&](int dx, int dy) {
    return static_cast<double>(plastic[static_cast<std::size_t>((iy + dy) * side + ix + dx)]);
  };
  return (1 - fy) * ((1 - fx) * value(0, 0) + fx * value(1, 0)) +
         fy * ((1 - fx) * value(0, 1) + fx * value(1, 1));
}

Field find_field(Reduced const& reduced,
                 Metric const& metric,
                 double bead_mm2,
                 double shadow_share) {
  return FieldMaker(reduced, metric, bead_mm2, shadow_share).make();
}

bool has_contrast(Field const& field) { return field.contrast >= least_field_contrast; }

void require_contrast(Field const& field, std::string const& path) {
  if (has_contrast(field)) return;
  throw Error(fmt::format("nothing stands out from the page's field: {:.0f} levels of 255 at most",
                          field.contrast),
              {.file = path},
              "Lay the piece on the field; use a --background that its plastic is not.");
}

}  // namespace meltlag::scan
