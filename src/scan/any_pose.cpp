// SPDX-License-Identifier: MIT
// How a piece of any shape lies on the page: every turn, both faces and the places about the
// plastic's middle are tried on a coarse grid, the best ones again on finer ones, and the last is
// moved onto its beads by least squares.
#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "meltlag/base/error.hpp"
#include "pose.hpp"

namespace meltlag::scan {
namespace {

constexpr double whole_turn = 2 * std::numbers::pi, degree_rad = whole_turn / 360;
constexpr std::size_t most_coarse = 300, most_fine = 3000;  // places that are looked at
constexpr int about_mm = 5;                                 // of the plastic's middle
constexpr double another_rad = 4 * degree_rad;
constexpr double least_on_path = 0.75;  // of the plastic seen
constexpr float seen_plastic = 0.6F;
constexpr double as_good = 0.93;   // of the best, for another way to lie
constexpr double across_mm = 1.3;  // to both sides, for a bead's middle
constexpr double far_mm = 0.1;     // beads further off than that hardly count

class AnyPoseFinder {
 public:
  AnyPoseFinder(Field const& field, Trail const& trail) : field_(field) {
    std::vector<std::size_t> prints;
    for (std::size_t i = 0; i < trail.points.size(); ++i)
      if (trail.points[i].prints) prints.push_back(i);
    auto const thinned = [&](std::size_t most) {
      std::vector<TrailPoint> out;
      std::size_t const step = std::max<std::size_t>(1, prints.size() / most);
      for (std::size_t i = 0; i < prints.size(); i += step) out.push_back(trail.points[prints[i]]);
      return out;
    };
    coarse_ = thinned(most_coarse);
    fine_ = thinned(most_fine);
  }

  Pose find() {
    std::vector<Try> tries = coarse_search();
    std::sort(
        tries.begin(), tries.end(), [](Try const& a, Try const& b) { return a.score > b.score; });
    // The best of each way to lie.
    std::vector<Try> ways;
    for (Try const& one : tries) {
      bool const known = std::any_of(ways.begin(), ways.end(), [&](Try const& other) {
        return !differ(one.pose, other.pose);
      });
      if (!known) ways.push_back(one);
      if (ways.size() == 8) break;
    }
    for (Try& way : ways) refine(way);
    std::sort(
        ways.begin(), ways.end(), [](Try const& a, Try const& b) { return a.score > b.score; });
    auto const second = std::find_if(ways.begin(), ways.end(), [&](Try const& other) {
      return differ(other.pose, ways[0].pose);
    });
    if (second != ways.end()) {
      second_ = second->score / std::max(1e-9, ways[0].score);
      second_pose_ = second->pose;
    }
    Pose best = ways[0].pose;
    best.steps_seen = ways[0].score;
    return best;
  }
  [[nodiscard]] double second() const { return second_; }
  [[nodiscard]] Pose const& second_pose() const { return second_pose_; }

 private:
  struct Try {
    Pose pose;
    double score = 0;
  };

  [[nodiscard]] static bool differ(Pose const& a, Pose const& b) {
    return a.face_down != b.face_down ||
           std::abs(std::remainder(a.turn_rad - b.turn_rad, whole_turn)) > another_rad;
  }

  [[nodiscard]] double plastic(Place2 page) const { return std::min(1.0, field_.at(page)); }
  [[nodiscard]] double score(Pose const& pose, std::vector<TrailPoint> const& points) const {
    double sum = 0;
    Place2 const x = pose.scale * pose.turned({1, 0}), y = pose.scale * pose.turned({0, 1});
    for (TrailPoint const& point : points)
      sum += plastic(pose.middle + point.place.x * x + point.place.y * y);
    return sum / static_cast<double>(points.size());
  }

  // Of plastic on the page, and of the path.
  [[nodiscard]] Place2 middle_of_plastic() const {
    Place2 sum;
    double weight = 1e-9;
    for (int y = 0; y < field_.side; ++y)
      for (int x = 0; x < field_.side; ++x) {
        double const here =
            field_.plastic[static_cast<std::size_t>(y) * static_cast<std::size_t>(field_.side) +
                           static_cast<std::size_t>(x)];
        if (here < 0.4) continue;
        sum =
            sum + Place2{x * Field::step_mm - Field::half_mm, y * Field::step_mm - Field::half_mm};
        ++weight;
      }
    return 1 / weight * sum;
  }

  [[nodiscard]] std::vector<Try> coarse_search() const {
    Place2 const plastic_at = middle_of_plastic();
    Place2 path_at;
    for (TrailPoint const& point : coarse_)
      path_at = path_at + 1 / static_cast<double>(coarse_.size()) * point.place;
    std::vector<Try> tries;
    for (bool const face_down : {false, true})
      for (double turn = 0; turn < whole_turn; turn += degree_rad) {
        Try best;
        Pose pose{.middle = {}, .turn_rad = turn, .face_down = face_down};
        Place2 const from = plastic_at - pose.turned(path_at);
        for (int dx = -about_mm; dx <= about_mm; ++dx)
          for (int dy = -about_mm; dy <= about_mm; ++dy) {
            pose.middle = from + Place2{0.8 * dx, 0.8 * dy};
            double const now = score(pose, coarse_);
            if (now > best.score) best = {pose, now};
          }
        tries.push_back(best);
      }
    return tries;
  }

  void refine(Try& one) const {
    one.score = score(one.pose, fine_);
    for (double const step : {0.5, 0.25, 0.12}) {
      for (int round = 0; round < 3; ++round) {
        Try best = one;
        for (int turn = -2; turn <= 2; ++turn)
          for (int dx = -1; dx <= 1; ++dx)
            for (int dy = -1; dy <= 1; ++dy) {
              Pose pose = one.pose;
              pose.turn_rad += step * degree_rad * turn;
              pose.middle = pose.middle + Place2{step * dx, step * dy};
              double const now = score(pose, fine_);
              if (now > best.score) best = {pose, now};
            }
        one = best;
      }
    }
    for (int round = 0; round < 3; ++round) move_onto_beads(one.pose);
    one.score = score(one.pose, fine_);
  }

  // How far the plastic lies to the left of the path; NaN where there is none.
  [[nodiscard]] double off_at(Pose const& pose, TrailPoint const& point) const {
    Place2 const left = pose.turned(point.left), at = pose.on_page(point.place);
    double sum = 1e-9, moment = 0;
    for (double aside = -across_mm; aside <= across_mm; aside += 0.1) {
      double const here = std::max(0.0, plastic(at + aside * left) - 0.3);
      sum += here;
      moment += here * aside;
    }
    return sum < 2 ? std::nan("") : moment / sum;
  }

  // Middle, turn and size by least squares; what is far off hardly counts.
  void move_onto_beads(Pose& pose) const {
    struct Off {
      Eigen::Vector4d by;
      double mm;
    };
    std::vector<Off> offs;
    for (TrailPoint const& point : fine_) {
      if (point.to_step_mm < 3) continue;
      double const mm = off_at(pose, point);
      if (std::isnan(mm)) continue;
      Place2 const left = pose.turned(point.left);
      Place2 const out = pose.turned(point.place);  // from the middle, y down
      // A turn by da moves a place at `out` by da · (y, −x) there.
      offs.push_back({{left.x, left.y, left.x * out.y - left.y * out.x, dot(left, out)}, mm});
    }
    if (offs.size() < 50) return;
    Eigen::Vector4d at = Eigen::Vector4d::Zero();
    for (int round = 0; round < 8; ++round) {
      // Ties for what straight beads of one direction leave open.
      Eigen::Matrix4d normal = Eigen::Vector4d(1, 1, 1e3, 1e5).asDiagonal();
      Eigen::Vector4d right = Eigen::Vector4d::Zero();
      for (Off const& off : offs) {
        double const left = (off.mm - off.by.dot(at)) / far_mm;
        double const weight = 1 / (1 + left * left);
        normal += weight * off.by * off.by.transpose();
        right += weight * off.mm * off.by;
      }
      at = normal.ldlt().solve(right);
    }
    pose.middle = pose.middle + Place2{at[0], at[1]};
    pose.turn_rad += at[2];
    pose.scale *= 1 + at[3];
  }

  Field const& field_;
  std::vector<TrailPoint> coarse_, fine_;
  double second_ = 0;
  Pose second_pose_;
};

// The share of the plastic seen that lies on the path.
double on_path(Field const& field, Trail const& trail, Pose const& pose) {
  constexpr int reach = 6;  // of the field's places to both sides, 1.2 mm
  auto const index = [&](int x, int y) {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(field.side) +
           static_cast<std::size_t>(x);
  };
  std::vector<bool> path(field.plastic.size(), false);
  for (std::size_t i = 0; i < trail.points.size(); i += 2) {
    Place2 const at = pose.on_page(trail.points[i].place);
    int const cx = static_cast<int>(std::lround((at.x + Field::half_mm) / Field::step_mm));
    int const cy = static_cast<int>(std::lround((at.y + Field::half_mm) / Field::step_mm));
    for (int y = std::max(0, cy - reach); y <= std::min(field.side - 1, cy + reach); ++y)
      for (int x = std::max(0, cx - reach); x <= std::min(field.side - 1, cx + reach); ++x)
        path[index(x, y)] = true;
  }
  double on = 0, all = 1e-9;
  for (std::size_t i = 0; i < path.size(); ++i) {
    if (field.plastic[i] < seen_plastic) continue;
    ++all;
    if (path[i]) ++on;
  }
  return on / all;
}

void refuse_large(Trail const& trail, std::string const& path) {
  for (TrailPoint const& point : trail.points)
    if (point.prints && norm(point.place) > Field::half_mm)
      throw Error(
          fmt::format("the beads reach {:.0f} mm from their middle, and the page's field {:.0f}",
                      norm(point.place),
                      Field::half_mm),
          {.file = path},
          "Only what lies on the field can be read: print a smaller piece.");
}

}  // namespace

Pose find_any_pose(Field const& field, Trail const& trail, std::string const& path) {
  refuse_large(trail, path);
  AnyPoseFinder finder(field, trail);
  Pose const pose = finder.find();
  if (pose.steps_seen < field.least_seen)
    throw Error(
        fmt::format("plastic is seen on {:.0f} % of the file's path at best: it may be another "
                    "piece",
                    100 * pose.steps_seen),
        {.file = path},
        "Give the G-code that this piece was printed with, and a picture of one piece whole on "
        "its page's field.");
  double const explained = on_path(field, trail, pose);
  if (explained < least_on_path)
    throw Error(
        fmt::format("{:.0f} % of the plastic on the field lies where the file has none: it may be "
                    "another piece, or more than one",
                    100 * (1 - explained)),
        {.file = path},
        "Give the whole G-code that this piece was printed with, and a picture of it alone.");
  if (finder.second() > as_good)
    throw Error(
        fmt::format(
            "the piece may lie in two ways: turned by {:.0f}° with its {} up, or by {:.0f}° "
            "with its {} up",
            pose.turn_rad / degree_rad,
            pose.face_down ? "underside" : "top",
            finder.second_pose().turn_rad / degree_rad,
            finder.second_pose().face_down ? "underside" : "top"),
        {.file = path},
        "A piece that looks the same turned or face down cannot be told: print one that does not.");
  return pose;
}

}  // namespace meltlag::scan
