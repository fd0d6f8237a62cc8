// SPDX-License-Identifier: MIT
/// From the scene to a file, row by row: where a pixel looks, blur, light, noise.
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "picture_file.hpp"
#include "picture_scene.hpp"

namespace meltlag_reference {
namespace {

constexpr double pi = 3.14159265358979323846;
constexpr double page_x = 210, page_y = 297, border_mm = 6;
constexpr double exposure = 0.87;  // so that the brightest side is not cut off

// Where a pixel looks.
class Camera {
 public:
  explicit Camera(const PictureOptions& options) : o_(options) {
    per_mm_ = o_.dpi / 25.4;
    const double turn = o_.page_turn_deg * pi / 180;
    cos_ = std::cos(turn);
    sin_ = std::sin(turn);
    const double wide = std::abs(cos_) * page_x + std::abs(sin_) * page_y + 2 * border_mm;
    const double high = std::abs(sin_) * page_x + std::abs(cos_) * page_y + 2 * border_mm;
    width_ = static_cast<int>(wide * per_mm_);
    full_height_ = static_cast<int>(high * per_mm_);
    height_ = static_cast<int>(full_height_ * o_.crop);
  }
  int width() const { return width_; }
  int height() const { return height_; }
  double pixel_mm() const { return 1 / per_mm_; }

  Flat page(double column, double row) const {
    double x = (column + 0.5 - width_ / 2.0) / per_mm_,
           y = (row + 0.5 - full_height_ / 2.0) / per_mm_;
    const double far = std::sqrt(page_x * page_x + page_y * page_y) / 2;
    // A lens: the picture shows a point at r (1 + k r^2), solved by repetition.
    if (o_.radial != 0) {
      double r = 1;
      for (int i = 0; i < 20; ++i) r = 1 / (1 + o_.radial * (x * x + y * y) * r * r / (far * far));
      x *= r;
      y *= r;
    }
    // A camera 400 mm away looks at a page that leans about its x axis.
    if (o_.tilt_deg != 0) {
      const double lean = o_.tilt_deg * pi / 180, away = 400;
      const double on = y / (std::cos(lean) - y * std::sin(lean) / away);
      x *= (away + on * std::sin(lean)) / away;
      y = on;
    }
    // A scanner: its carriage runs a little fast in the middle, its axes are not square.
    y += o_.stretch_mm / 2 * (1 - std::pow(2 * y / page_y, 2));
    x += y * std::tan(o_.skew_deg * pi / 180);
    return {(cos_ * x + sin_ * y) / o_.scan_scale_x, (-sin_ * x + cos_ * y) / o_.scan_scale_y};
  }
  bool on_paper(Flat at) const {
    return std::abs(at.x) < page_x / 2 && std::abs(at.y) < page_y / 2;
  }

 private:
  PictureOptions o_;
  double per_mm_ = 1, cos_ = 1, sin_ = 0;
  int width_ = 0, height_ = 0, full_height_ = 0;
};

std::vector<double> kernel(double sd) {
  const int reach = std::max(1, static_cast<int>(std::ceil(3 * sd)));
  std::vector<double> out;
  double sum = 0;
  for (int i = -reach; i <= reach; ++i) {
    out.push_back(sd > 0 ? std::exp(-i * i / (2 * sd * sd)) : (i == 0 ? 1 : 0));
    sum += out.back();
  }
  for (double& v : out) v /= sum;
  return out;
}

class Exposure {
 public:
  Exposure(const Scene& scene, const PictureOptions& options)
      : scene_(scene), o_(options), camera_(options), kernel_(kernel(options.blur_px)) {}

  void expose(PictureFile& file) {
    const int reach = static_cast<int>(kernel_.size() / 2);
    std::mt19937 random(o_.seed);
    std::vector<std::vector<float>> rows;  // blurred along the row, of row0, row0 + 1, ...
    int row0 = -reach;
    for (int row = 0; row < camera_.height(); ++row) {
      for (; row0 < row - reach; ++row0) rows.erase(rows.begin());
      while (row0 + static_cast<int>(rows.size()) <= row + reach)
        rows.push_back(blurred(row0 + static_cast<int>(rows.size())));
      file.write_row(developed(rows, row, random));
    }
  }
  const Camera& camera() const { return camera_; }

 private:
  std::vector<float> blurred(int row) const {
    const int width = camera_.width(), reach = static_cast<int>(kernel_.size() / 2);
    std::vector<float> raw(static_cast<std::size_t>(width) * 3), out(raw.size());
    for (int i = 0; i < width; ++i) {
      const Flat at = camera_.page(i, row);
      const Colour c =
          camera_.on_paper(at) ? scene_.look(at, camera_.pixel_mm()) : Colour{120, 120, 118};
      for (std::size_t k = 0; k < 3; ++k)
        raw[static_cast<std::size_t>(i) * 3 + k] = static_cast<float>(c[k]);
    }
    for (int i = 0; i < width; ++i)
      for (std::size_t k = 0; k < 3; ++k) {
        double sum = 0;
        for (int d = -reach; d <= reach; ++d)
          sum += kernel_[static_cast<std::size_t>(d + reach)] *
                 raw[static_cast<std::size_t>(std::clamp(i + d, 0, width - 1)) * 3 + k];
        out[static_cast<std::size_t>(i) * 3 + k] = static_cast<float>(sum);
      }
    return out;
  }

  std::vector<std::uint8_t> developed(const std::vector<std::vector<float>>& rows,
                                      int row,
                                      std::mt19937& random) const {
    const int width = camera_.width();
    std::vector<std::uint8_t> out(static_cast<std::size_t>(width) * 3);
    const double down = row / static_cast<double>(std::max(1, camera_.height() - 1)) - 0.5;
    for (int i = 0; i < width; ++i) {
      const double right = i / static_cast<double>(width) - 0.5;
      const double light = exposure * (1 + o_.gradient * (0.8 * right + 1.2 * down));
      for (std::size_t k = 0; k < 3; ++k) {
        const std::size_t at = static_cast<std::size_t>(i) * 3 + k;
        double sum = 0;
        for (std::size_t d = 0; d < kernel_.size(); ++d) sum += kernel_[d] * rows[d][at];
        // The sum of four uniform numbers is near enough to normal, and quick.
        const auto word = static_cast<std::uint32_t>(random());
        const double four = (word & 255) + (word >> 8 & 255) + (word >> 16 & 255) + (word >> 24);
        const double noise = (four - 510) / 147.8 * o_.noise;
        out[at] = static_cast<std::uint8_t>(std::clamp(sum * light + noise + 0.5, 0.0, 255.0));
      }
    }
    return out;
  }

  const Scene& scene_;
  const PictureOptions& o_;
  Camera camera_;
  std::vector<double> kernel_;
};

}  // namespace

std::vector<Fault> take_picture(const std::vector<BeadPlace>& bead, const PictureOptions& options) {
  const Scene scene(bead, options);
  Exposure exposure(scene, options);
  PictureFile file(options.file,
                   exposure.camera().width(),
                   exposure.camera().height(),
                   options.grey,
                   options.dpi,
                   options.jpeg_quality);
  exposure.expose(file);
  file.close();
  return scene.faults();
}

}  // namespace meltlag_reference
