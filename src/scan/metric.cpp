// SPDX-License-Identifier: MIT
#include "metric.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <optional>

#include "meltlag/base/error.hpp"
#include "meltlag/testpiece/ring_page.hpp"
#include "spots.hpp"

namespace meltlag::scan {
namespace {

using testpiece::PageMark;

constexpr std::size_t corners = 4;
constexpr int fewest_marks = 16;
constexpr double smallest_mark_share = 1.0 / 150,
                 largest_mark_share = 1.0 / 30;  // of the longer side
constexpr double alike_sizes = 1.7;              // of the four corners
constexpr double near_marks = 0.6;               // of a mark's size: this far off it may be found
constexpr double most_scatter_mm = 0.15;  // else the page was not flat, or the marks are others
constexpr double term_sd = 0.02;          // beforehand, of radial and stretch terms

struct Match {
  Place2 page, pixel;
};

// Plane to plane from four matches.
std::array<double, 9> plane_of(std::array<Match, corners> const& four) {
  Eigen::Matrix<double, 8, 8> a;
  Eigen::Matrix<double, 8, 1> b;
  for (int i = 0; i < 4; ++i) {
    auto const& [p, q] = four[static_cast<std::size_t>(i)];
    a.row(2 * i) << p.x, p.y, 1, 0, 0, 0, -q.x * p.x, -q.x * p.y;
    a.row(2 * i + 1) << 0, 0, 0, p.x, p.y, 1, -q.y * p.x, -q.y * p.y;
    b[2 * i] = q.x;
    b[2 * i + 1] = q.y;
  }
  Eigen::Matrix<double, 8, 1> const h = a.fullPivLu().solve(b);
  std::array<double, 9> out{};
  for (int i = 0; i < 8; ++i) out[static_cast<std::size_t>(i)] = h[i];
  out[8] = 1;
  return out;
}

Place2 through(std::array<double, 9> const& h, Place2 p) {
  double const w = h[6] * p.x + h[7] * p.y + h[8];
  return {(h[0] * p.x + h[1] * p.y + h[2]) / w, (h[3] * p.x + h[4] * p.y + h[5]) / w};
}

bool is_convex(std::array<Place2, corners> const& at) {
  int sides = 0;
  for (std::size_t i = 0; i < corners; ++i) {
    Place2 const a = at[(i + 1) % corners] - at[i],
                 b = at[(i + 2) % corners] - at[(i + 1) % corners];
    sides += a.x * b.y - a.y * b.x > 0 ? 1 : -1;
  }
  return std::abs(sides) == 4;
}

// Every mark with the spot that lies where the map has it.
std::vector<Match> matches(std::array<double, 9> const& plane,
                           std::vector<Spot> const& spots,
                           double reach_px) {
  std::vector<Match> out;
  for (PageMark const& mark : testpiece::page_marks()) {
    Place2 const page{mark.x_mm, mark.y_mm}, wanted = through(plane, page);
    Spot const* best = nullptr;
    for (Spot const& spot : spots)
      if (norm(spot.centre - wanted) < reach_px && spot.holes == mark.holes &&
          (best == nullptr || norm(spot.centre - wanted) < norm(best->centre - wanted)))
        best = &spot;
    if (best != nullptr) out.push_back({page, best->centre});
  }
  return out;
}

class PageFinder {
 public:
  explicit PageFinder(std::vector<Spot> spots) : spots_(std::move(spots)) {
    for (Spot const& spot : spots_)
      if (spot.holes >= 1 && spot.holes <= 4)
        by_holes_[static_cast<std::size_t>(spot.holes - 1)].push_back(&spot);
  }

  [[nodiscard]] int missing_corners() const {
    return static_cast<int>(std::count_if(
        by_holes_.begin(), by_holes_.end(), [](auto const& of) { return of.empty(); }));
  }
  [[nodiscard]] int pages() const { return pages_; }

  // The set of corners that brings most marks together.
  std::vector<Match> best() {
    std::vector<Match> best;
    for (Spot const* a : by_holes_[0])
      for (Spot const* b : by_holes_[1])
        for (Spot const* c : by_holes_[2])
          for (Spot const* d : by_holes_[3]) {
            std::vector<Match> found = try_corners({a, b, c, d});
            if (static_cast<int>(found.size()) >= fewest_marks) ++pages_;
            if (found.size() > best.size()) best = std::move(found);
          }
    return best;
  }

 private:
  [[nodiscard]] std::vector<Match> try_corners(std::array<Spot const*, corners> const& of) const {
    std::array<Match, corners> four;
    std::array<Place2, corners> at;
    double least = 1e9, most = 0;
    std::vector<PageMark> const marks = testpiece::page_marks();
    for (std::size_t i = 0; i < corners; ++i) {
      least = std::min(least, of[i]->across_px);
      most = std::max(most, of[i]->across_px);
      at[i] = of[i]->centre;
      four[i] = {{marks[i].x_mm, marks[i].y_mm}, at[i]};
    }
    if (most > alike_sizes * least || !is_convex(at)) return {};
    return matches(plane_of(four), spots_, near_marks * most);
  }

  std::vector<Spot> spots_;
  std::array<std::vector<Spot const*>, corners> by_holes_;
  int pages_ = 0;
};

// Gauss–Newton over all terms; the extra ones are held beforehand to be small.
class MetricFit {
 public:
  MetricFit(Metric& metric, std::vector<Match> const& found) : metric_(metric), found_(found) {}

  void run() {
    for (int i = 0; i < 12; ++i) {
      Eigen::VectorXd const at = take(), off = residuals(at);
      Eigen::MatrixXd jacobian(off.size(), at.size());
      for (Eigen::Index k = 0; k < at.size(); ++k) {
        double const step = 1e-6 * std::max(std::abs(at[k]), k < 8 ? 1e-4 : 1.0);
        Eigen::VectorXd moved = at;
        moved[k] += step;
        jacobian.col(k) = (residuals(moved) - off) / step;
      }
      give(at - jacobian.colPivHouseholderQr().solve(off));
    }
    Eigen::Index const rows = 2 * static_cast<Eigen::Index>(found_.size());
    Eigen::VectorXd const off = residuals(take());
    scatter_px =
        std::sqrt(off.head(rows).squaredNorm() / std::max(1.0, static_cast<double>(rows) - 13));
  }
  double scatter_px = 0;

 private:
  [[nodiscard]] Eigen::VectorXd take() const {
    Eigen::VectorXd at(13);
    for (int i = 0; i < 8; ++i) at[i] = metric_.plane[static_cast<std::size_t>(i)];
    at[8] = metric_.radial;
    for (int i = 0; i < 4; ++i) at[9 + i] = metric_.stretch[static_cast<std::size_t>(i)];
    return at;
  }
  void give(Eigen::VectorXd const& at) {
    for (int i = 0; i < 8; ++i) metric_.plane[static_cast<std::size_t>(i)] = at[i];
    metric_.radial = at[8];
    for (int i = 0; i < 4; ++i) metric_.stretch[static_cast<std::size_t>(i)] = at[9 + i];
  }
  [[nodiscard]] Eigen::VectorXd residuals(Eigen::VectorXd const& at) {
    Metric const kept = metric_;
    give(at);
    auto const rows = 2 * static_cast<Eigen::Index>(found_.size());
    Eigen::VectorXd out(rows + 5);
    for (std::size_t i = 0; i < found_.size(); ++i) {
      Place2 const off = metric_.pixel(found_[i].page) - found_[i].pixel;
      out[2 * static_cast<Eigen::Index>(i)] = off.x;
      out[2 * static_cast<Eigen::Index>(i) + 1] = off.y;
    }
    for (int i = 0; i < 5; ++i) out[rows + i] = at[8 + i] / term_sd * 0.05;
    metric_ = kept;
    return out;
  }

  Metric& metric_;
  std::vector<Match> const& found_;
};

[[noreturn]] void refuse_page(std::string const& path, int missing, std::size_t found) {
  std::string const what =
      missing > 0 ? fmt::format("{} of the page's four corner marks cannot be found", missing)
                  : fmt::format("only {} of the page's {} marks can be found",
                                found,
                                testpiece::page_marks().size());
  throw Error(what,
              {.file = path},
              "Show the whole page that --map wrote, sharp and with light paper around the marks; "
              "300 dpi or more.");
}

}  // namespace

Place2 Metric::pixel(Place2 page_mm) const {
  Place2 const flat = through(plane, {page_mm.x / scale_x, page_mm.y / scale_y});
  double const x = (flat.x - middle.x) / half_diagonal_px,
               y = (flat.y - middle.y) / half_diagonal_px;
  double const lens = 1 + radial * (x * x + y * y);
  double const sx = x * lens + x * x * (stretch[0] + x * stretch[1]);
  double const sy = y * lens + y * y * (stretch[2] + y * stretch[3]);
  return {middle.x + half_diagonal_px * sx, middle.y + half_diagonal_px * sy};
}

Metric find_metric(Reduced const& reduced, PageScale const& scale, std::string const& path) {
  Picture const& picture = reduced.picture;
  double const side = std::max(picture.width, picture.height);
  PageFinder finder(find_spots(picture, smallest_mark_share * side, largest_mark_share * side));
  std::vector<Match> found = finder.best();
  if (static_cast<int>(found.size()) < fewest_marks)
    refuse_page(path, finder.missing_corners(), found.size());
  if (finder.pages() > 1)
    throw Error("the picture shows more than one page",
                {.file = path},
                "Crop the picture to one page with its piece.");
  Metric metric;
  double const f = reduced.factor;
  for (Match& match : found) match.pixel = f * match.pixel + Place2{(f - 1) / 2, (f - 1) / 2};
  metric.middle = {f * picture.width / 2, f * picture.height / 2};
  metric.half_diagonal_px = norm(metric.middle);
  metric.plane = plane_of({found[0], found[1], found[2], found[3]});
  MetricFit fit(metric, found);
  fit.run();
  metric.marks = static_cast<int>(found.size());
  Place2 const here = metric.pixel({0, 0}), right = metric.pixel({1, 0}),
               down = metric.pixel({0, 1});
  double const area = (right - here).x * (down - here).y - (right - here).y * (down - here).x;
  metric.mirrored = area < 0;
  metric.pixel_mm = 1 / std::sqrt(std::abs(area));
  metric.scatter_mm = fit.scatter_px * metric.pixel_mm;
  if (metric.scatter_mm > most_scatter_mm)
    throw Error(fmt::format("the marks are off by {:.2f} mm from where a flat page has them",
                            metric.scatter_mm),
                {.file = path},
                "Lay the page flat, and take photos straight from above with all of it in focus.");
  metric.scale_x = scale.bar_x_mm / testpiece::ring_page::bar_mm;
  metric.scale_y = scale.bar_y_mm / testpiece::ring_page::bar_mm;
  metric.pixel_mm *= std::sqrt(metric.scale_x * metric.scale_y);
  return metric;
}

}  // namespace meltlag::scan
