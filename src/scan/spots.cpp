// SPDX-License-Identifier: MIT
#include "spots.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numbers>

namespace meltlag::scan {
namespace {

constexpr int blocks = 20;  // of the longer side, for what is white here
constexpr double dark_share = 0.55;
constexpr double most_unlike_sides = 1.7, least_fill = 0.65, most_fill = 1.2;
constexpr int least_hole_px = 4;
constexpr int margin_px = 3;

class SpotFinder {
 public:
  explicit SpotFinder(Picture const& picture) : width_(picture.width), height_(picture.height) {
    grey_.resize(pixels());
    for (std::size_t i = 0; i < grey_.size(); ++i)
      grey_[i] = static_cast<std::uint8_t>(
          (picture.rgb[3 * i] + 2 * picture.rgb[3 * i + 1] + picture.rgb[3 * i + 2]) / 4);
    find_whites();
  }

  std::vector<Spot> find(double least_px, double most_px) {
    std::vector<Spot> out;
    done_.assign(pixels(), 0);
    for (int y = 0; y < height_; ++y)
      for (int x = 0; x < width_; ++x) {
        if (done_[index(x, y)] != 0 || !is_dark(x, y)) continue;
        Box const box = flood(x, y);
        double const wide = box.right - box.left + 1, high = box.bottom - box.top + 1;
        double const across = (wide + high) / 2;
        bool const touches =
            box.left == 0 || box.top == 0 || box.right == width_ - 1 || box.bottom == height_ - 1;
        double const fill = box.area / (wide * high * std::numbers::pi / 4);
        if (touches || across < least_px || across > most_px || fill < least_fill ||
            fill > most_fill || std::max(wide / high, high / wide) > most_unlike_sides)
          continue;
        out.push_back({centre(box), across, holes(box)});
      }
    return out;
  }

 private:
  struct Box {
    int left, top, right, bottom;
    double area;
  };
  [[nodiscard]] std::size_t pixels() const {
    return static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_);
  }
  [[nodiscard]] std::size_t index(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) +
           static_cast<std::size_t>(x);
  }
  [[nodiscard]] int block_px() const { return std::max(8, std::max(width_, height_) / blocks); }

  // The 90th percentile of every block, then the greatest of it and its neighbours.
  void find_whites() {
    int const side = block_px();
    across_ = (width_ + side - 1) / side;
    down_ = (height_ + side - 1) / side;
    std::vector<double> own;
    for (int by = 0; by < down_; ++by)
      for (int bx = 0; bx < across_; ++bx) own.push_back(percentile(bx * side, by * side, side));
    for (int by = 0; by < down_; ++by)
      for (int bx = 0; bx < across_; ++bx) {
        double most = 0;
        for (int y = std::max(0, by - 1); y <= std::min(down_ - 1, by + 1); ++y)
          for (int x = std::max(0, bx - 1); x <= std::min(across_ - 1, bx + 1); ++x)
            most = std::max(most, own[static_cast<std::size_t>(y * across_ + x)]);
        white_.push_back(most);
      }
  }
  [[nodiscard]] double percentile(int left, int top, int side) const {
    std::vector<int> counts(256, 0);
    int sum = 0;
    for (int y = top; y < std::min(height_, top + side); y += 2)
      for (int x = left; x < std::min(width_, left + side); x += 2, ++sum)
        ++counts[grey_[index(x, y)]];
    int seen = 0, level = 255;
    while (level > 0 && (seen += counts[static_cast<std::size_t>(level)]) * 10 < sum) --level;
    return level;
  }

  [[nodiscard]] double white(int x, int y) const {
    int const side = block_px();
    return white_[static_cast<std::size_t>(y / side * across_ + x / side)];
  }
  [[nodiscard]] bool is_dark(int x, int y) const {
    return grey_[index(x, y)] < dark_share * white(x, y);
  }

  Box flood(int x, int y) {
    Box box{x, y, x, y, 0};
    std::vector<std::pair<int, int>> open{{x, y}};
    done_[index(x, y)] = 1;
    while (!open.empty()) {
      auto const [px, py] = open.back();
      open.pop_back();
      ++box.area;
      box.left = std::min(box.left, px);
      box.right = std::max(box.right, px);
      box.top = std::min(box.top, py);
      box.bottom = std::max(box.bottom, py);
      for (auto const& [dx, dy] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
        int const nx = px + dx, ny = py + dy;
        if (nx < 0 || ny < 0 || nx >= width_ || ny >= height_ || done_[index(nx, ny)] != 0 ||
            !is_dark(nx, ny))
          continue;
        done_[index(nx, ny)] = 1;
        open.emplace_back(nx, ny);
      }
    }
    return box;
  }

  // Weighed by darkness, so that it is known to a small part of a pixel.
  [[nodiscard]] Place2 centre(Box const& box) const {
    double sum = 0, sx = 0, sy = 0;
    double const paper = white(box.left, box.top);
    for (int y = std::max(0, box.top - margin_px);
         y <= std::min(height_ - 1, box.bottom + margin_px);
         ++y)
      for (int x = std::max(0, box.left - margin_px);
           x <= std::min(width_ - 1, box.right + margin_px);
           ++x) {
        double const dark = std::max(0.0, 0.85 * paper - grey_[index(x, y)]);
        sum += dark;
        sx += dark * x;
        sy += dark * y;
      }
    return {sx / sum, sy / sum};
  }

  // Light places within the box that are not joined to its outside.
  [[nodiscard]] int holes(Box const& box) const {
    int const wide = box.right - box.left + 3, high = box.bottom - box.top + 3;
    std::vector<std::uint8_t> seen(static_cast<std::size_t>(wide * high), 0);
    auto const dark = [&](int x, int y) {
      int const px = box.left - 1 + x, py = box.top - 1 + y;
      return px >= 0 && py >= 0 && px < width_ && py < height_ && is_dark(px, py);
    };
    int count = 0;
    for (int y = 0; y < high; ++y)
      for (int x = 0; x < wide; ++x) {
        if (seen[static_cast<std::size_t>(y * wide + x)] != 0 || dark(x, y)) continue;
        int area = 0;
        bool outside = false;
        std::vector<std::pair<int, int>> open{{x, y}};
        seen[static_cast<std::size_t>(y * wide + x)] = 1;
        while (!open.empty()) {
          auto const [px, py] = open.back();
          open.pop_back();
          ++area;
          for (auto const& [dx, dy] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
            int const nx = px + dx, ny = py + dy;
            if (nx < 0 || ny < 0 || nx >= wide || ny >= high) {
              outside = true;
              continue;
            }
            auto& there = seen[static_cast<std::size_t>(ny * wide + nx)];
            if (there != 0 || dark(nx, ny)) continue;
            there = 1;
            open.emplace_back(nx, ny);
          }
        }
        if (!outside && area >= least_hole_px) ++count;
      }
    return count;
  }

  int width_, height_;
  int across_ = 0, down_ = 0;
  std::vector<std::uint8_t> grey_{};
  std::vector<double> white_;
  std::vector<std::uint8_t> done_;
};

}  // namespace

std::vector<Spot> find_spots(Picture const& picture, double least_px, double most_px) {
  return SpotFinder(picture).find(least_px, most_px);
}

}  // namespace meltlag::scan
