// SPDX-License-Identifier: MIT
#include "overlay.hpp"

#include <cmath>

namespace meltlag::scan {
namespace {

using Pen = std::array<std::uint8_t, 3>;
constexpr Pen read_pen{0, 230, 60}, left_out_pen{255, 0, 60}, nothing_pen{60, 120, 255};

class Overlayer {
 public:
  Overlayer(Reduced const& reduced, Metric const& metric, Pose const& pose)
      : picture_(reduced.picture), factor_(reduced.factor), metric_(metric), pose_(pose) {}

  void draw(TrailPoint const& point, Width const& width, double left_mm, double right_mm) {
    if (width.doubt == Doubt::none) {
      dot(point, left_mm, read_pen);
      dot(point, right_mm, read_pen);
      return;
    }
    if (width.doubt == Doubt::no_bead) {
      if (width.prints) dot(point, 0, nothing_pen);
      return;
    }
    dot(point, width.aside_mm + width.width_mm / 2, left_out_pen);
    dot(point, width.aside_mm - width.width_mm / 2, left_out_pen);
  }
  [[nodiscard]] Picture take() { return std::move(picture_); }

 private:
  void dot(TrailPoint const& point, double aside_mm, Pen const& pen) {
    Place2 const page = pose_.on_page(point.place) + aside_mm * pose_.turned(point.left);
    Place2 const at = metric_.pixel(page);
    int const x = static_cast<int>(at.x / factor_), y = static_cast<int>(at.y / factor_);
    if (x < 0 || y < 0 || x >= picture_.width || y >= picture_.height) return;
    std::copy(pen.begin(), pen.end(), picture_.at(x, y));
  }

  Picture picture_;
  double factor_;
  Metric const& metric_;
  Pose const& pose_;
};

}  // namespace

std::string make_overlay(Reduced const& reduced,
                         Metric const& metric,
                         Pose const& pose,
                         Trail const& trail,
                         ReadBead const& bead) {
  Overlayer overlayer(reduced, metric, pose);
  for (std::size_t i = 0; i < trail.points.size(); ++i)
    overlayer.draw(trail.points[i], bead.widths[i], bead.left_mm[i], bead.right_mm[i]);
  return to_png(overlayer.take());
}

}  // namespace meltlag::scan
