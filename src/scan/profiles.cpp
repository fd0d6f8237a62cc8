// SPDX-License-Identifier: MIT
#include "profiles.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace meltlag::scan {
namespace {

constexpr double finest_step_mm = 0.025, step_px = 0.45;
constexpr double along_mm[] = {-0.05, 0, 0.05};  // a profile is the mean of so many

// A straight line of pixels.
struct Line {
  Place2 from, to;
};
struct Lines {
  std::array<Line, std::size(along_mm)> lines;
  double top = 0, bottom = 0;
};

class Band {
 public:
  explicit Band(PictureRows& rows)
      : rows_(rows), width_(static_cast<std::size_t>(rows.size().width)) {}

  static constexpr std::size_t rows_at_once = 128;

  // Reads on until row `bottom` is there and forgets rows above `top`, which must not go back.
  void cover(int top, int bottom) {
    auto const past = static_cast<std::size_t>(std::max(0, top - first_));
    if (past > rows_at_once) {  // seldom: the whole band is moved
      std::size_t const drop = std::min(past, held_);
      std::move(bytes_.begin() + static_cast<std::ptrdiff_t>(drop * stride()),
                bytes_.begin() + static_cast<std::ptrdiff_t>(held_ * stride()),
                bytes_.begin());
      held_ -= drop;
      first_ += static_cast<int>(drop);
    }
    while (first_ + static_cast<int>(held_) <= bottom) {
      if (bytes_.size() < (held_ + 1) * stride()) bytes_.resize((held_ + 65) * stride());
      rows_.next({&bytes_[held_ * stride()], stride()});
      if (held_ == 0 && first_ + 1 < top)
        ++first_;  // far above the first profile
      else
        ++held_;
    }
  }

  void add(Place2 at, std::array<double, 3>& sum) const {
    auto const x = static_cast<int>(std::floor(at.x)), y = static_cast<int>(std::floor(at.y));
    double const fx = at.x - x, fy = at.y - y;
    std::uint8_t const* const upper = pixel(x, y);
    std::uint8_t const* const lower = upper + stride();
    for (std::size_t c = 0; c < 3; ++c)
      sum[c] += (1 - fy) * ((1 - fx) * upper[c] + fx * upper[c + 3]) +
                fy * ((1 - fx) * lower[c] + fx * lower[c + 3]);
  }

 private:
  [[nodiscard]] std::size_t stride() const { return 3 * width_; }
  [[nodiscard]] std::uint8_t const* pixel(int x, int y) const {
    return &bytes_[static_cast<std::size_t>(y - first_) * stride() +
                   3 * static_cast<std::size_t>(x)];
  }

  PictureRows& rows_;
  std::size_t width_;
  int first_ = 0;
  std::size_t held_ = 0;
  std::vector<std::uint8_t> bytes_;
};

class ProfileTaker {
 public:
  ProfileTaker(PictureRows& rows, Metric const& metric, Pose const& pose, Trail const& trail)
      : rows_(rows), metric_(metric), pose_(pose), trail_(trail) {}

  Profiles take(double step_mm) {
    Profiles out;
    out.step_mm = step_mm;
    out.half_mm = profile_half_mm;
    out.coarse_colour = rows_.size().coarse_colour;
    out.count = static_cast<std::size_t>(2 * out.half_mm / out.step_mm) + 1;
    out.levels.resize(3 * out.count * trail_.points.size());
    out.in_picture.assign(trail_.points.size(), false);
    lay_lines(out);
    std::vector<std::size_t> order(trail_.points.size());
    std::iota(order.begin(), order.end(), 0);
    std::erase_if(order, [&](std::size_t i) { return !out.in_picture[i]; });
    // By their upper ends: the band then only goes down.
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return lines_[a].top < lines_[b].top;
    });
    Band band(rows_);
    for (std::size_t const i : order) {
      band.cover(static_cast<int>(lines_[i].top), static_cast<int>(lines_[i].bottom) + 1);
      read(band, lines_[i], &out.levels[3 * out.count * i], out.count);
    }
    return out;
  }

 private:
  void lay_lines(Profiles& out) {
    double const most_x = rows_.size().width - 2, most_y = rows_.size().height - 2;
    double const last = out.at(static_cast<double>(out.count - 1));
    for (std::size_t i = 0; i < trail_.points.size(); ++i) {
      TrailPoint const& point = trail_.points[i];
      Place2 const ahead{point.left.y, -point.left.x}, aside = pose_.turned(point.left);
      Lines lines{.lines = {}, .top = 1e9, .bottom = -1e9};
      bool inside = true;
      for (std::size_t k = 0; k < std::size(along_mm); ++k) {
        Place2 const middle = pose_.on_page(point.place + along_mm[k] * ahead);
        Line& line = lines.lines[k];
        line = {metric_.pixel(middle + -out.half_mm * aside), metric_.pixel(middle + last * aside)};
        for (Place2 const end : {line.from, line.to}) {
          inside = inside && end.x >= 0 && end.y >= 0 && end.x < most_x && end.y < most_y;
          lines.top = std::min(lines.top, end.y);
          lines.bottom = std::max(lines.bottom, end.y);
        }
      }
      out.in_picture[i] = inside;
      lines_.push_back(lines);
    }
  }

  static void read(Band const& band, Lines const& lines, std::uint8_t* out, std::size_t count) {
    for (std::size_t k = 0; k < count; ++k) {
      double const part = static_cast<double>(k) / static_cast<double>(count - 1);
      std::array<double, 3> sum{};
      for (Line const& line : lines.lines) band.add(line.from + part * (line.to - line.from), sum);
      for (std::size_t c = 0; c < 3; ++c)
        out[3 * k + c] = static_cast<std::uint8_t>(sum[c] / std::size(along_mm) + 0.5);
    }
  }

  PictureRows& rows_;
  Metric const& metric_;
  Pose const& pose_;
  Trail const& trail_;
  std::vector<Lines> lines_;
};

}  // namespace

double profile_step_mm(double pixel_mm) { return std::max(finest_step_mm, step_px * pixel_mm); }

Profiles take_profiles(std::string const& path,
                       Metric const& metric,
                       Pose const& pose,
                       Trail const& trail,
                       double step_mm) {
  std::unique_ptr<PictureRows> const rows = PictureRows::open(path);
  return ProfileTaker(*rows, metric, pose, trail).take(step_mm);
}

}  // namespace meltlag::scan
