// SPDX-License-Identifier: MIT
#include "pose.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "along.hpp"
#include "meltlag/base/error.hpp"
#include "rings_middle.hpp"

namespace meltlag::scan {
namespace {

constexpr double turn_rad = 2 * std::numbers::pi;
constexpr double degree = turn_rad / 360;
constexpr double coarse_rad = 0.25 * degree, fine_rad = 0.02 * degree;
constexpr double apart_rad = 4 * degree;  // another turn than this one
constexpr double beside_mm = 2.5;         // of a step, where no plastic should be
constexpr double step_reach_mm = 1.3;     // to both sides, for its middle
constexpr double loose_mm = 0.1;          // beads further off than that hardly tell the middle
constexpr double most_second = 0.75;      // of the best turn's score, for any other turn
constexpr double least_slope = 0.08;      // of `plastic` per place: an edge
constexpr double least_rings = 0.35;      // plastic on rings over that between them

// Lines through edges, across them: they meet in the rings' middle.
Place2 rings_middle(Field const& field) {
  std::vector<Ray> rays;
  auto const value = [&](int x, int y) {
    return static_cast<double>(field.plastic[static_cast<std::size_t>(y * field.side + x)]);
  };
  for (int y = 2; y + 2 < field.side; y += 2)
    for (int x = 2; x + 2 < field.side; x += 2) {
      Place2 const slope{value(x + 1, y) - value(x - 1, y), value(x, y + 1) - value(x, y - 1)};
      double const steep = norm(slope);
      if (steep < least_slope) continue;
      Place2 const at{x * Field::step_mm - Field::half_mm, y * Field::step_mm - Field::half_mm};
      rays.push_back({at, 1 / steep * slope, std::min(1.0, steep)});
    }
  return rays.size() < 100 ? Place2{} : meeting_point(rays, {0, 0});
}

class PoseFinder {
 public:
  PoseFinder(Field const& field, Trail const& trail) : field_(field), trail_(trail) {
    for (Step const& step : trail.steps)
      if (step.prints) steps_.push_back(step);
  }

  Pose find() {
    Pose pose;
    pose.middle = rings_middle(field_);
    pose.scale = best_scale(pose);
    best_ = search(pose);
    for (double turn = best_.turn_rad - 3 * coarse_rad; turn < best_.turn_rad + 3 * coarse_rad;
         turn += fine_rad)
      consider(turn);
    for (int round = 0; round < 3; ++round) {
      move_onto_beads(best_);
      // Seen from below, what lies ahead on the piece lies behind on the page.
      best_.turn_rad += (best_.face_down ? -1 : 1) * turn_off(best_);
    }
    best_.steps_seen = seen(best_);
    return best_;
  }
  [[nodiscard]] double second() const { return second_ / std::max(1e-9, score_); }
  // How much more plastic lies on the rings than between them.
  [[nodiscard]] double on_rings(Pose const& pose) const {
    double on = 0, between = 0;
    int count = 0;
    for (double const radius : trail_.radii_mm)
      for (double turn = 0; turn < turn_rad; turn += 3 * degree, ++count) {
        Place2 const way{std::cos(turn), std::sin(turn)};
        on += field_.at(pose.middle + pose.scale * radius * way);
        between += field_.at(pose.middle + pose.scale * (radius + 2) * way);
      }
    return (on - between) / count;
  }

 private:
  // Plastic shrinks and pages are printed a little off: the rings tell by how much together.
  [[nodiscard]] double best_scale(Pose pose) const {
    double best = 1, most = -1e9;
    for (double scale = 0.98; scale <= 1.0201; scale += 0.001) {
      pose.scale = scale;
      double const now = on_rings(pose);
      if (now > most) {
        most = now;
        best = scale;
      }
    }
    return best;
  }

  [[nodiscard]] double plastic_at(Pose const& pose, double radius, double turn) const {
    return field_.at(pose.on_page({radius * std::cos(turn), radius * std::sin(turn)}));
  }
  // Of each step three places along it, less what lies beside it.
  [[nodiscard]] double score(Pose const& pose) const {
    double sum = 0;
    for (Step const& step : steps_)
      for (double const in : {-0.7, 0.0, 0.7}) {
        double const radius = step.radius_mm + in, aside = beside_mm / radius;
        sum += std::min(1.0, plastic_at(pose, radius, step.turn_rad)) -
               0.5 * std::min(1.0, plastic_at(pose, radius, step.turn_rad + aside)) -
               0.5 * std::min(1.0, plastic_at(pose, radius, step.turn_rad - aside));
      }
    return sum / (3 * static_cast<double>(steps_.size()));
  }
  [[nodiscard]] double seen(Pose const& pose) const {
    int count = 0;
    for (Step const& step : steps_)
      if (plastic_at(pose, step.radius_mm, step.turn_rad) > 0.4) ++count;
    return count / static_cast<double>(steps_.size());
  }

  // Where plastic lies across the path at `turn` and `radius`, from it outward.
  [[nodiscard]] std::optional<double> bead_off(Pose const& pose, double radius, double turn) const {
    double sum = 1e-9, moment = 0;
    for (double out = -step_reach_mm; out <= step_reach_mm; out += 0.1) {
      double const plastic =
          std::max(0.0, std::min(1.0, plastic_at(pose, radius + out, turn)) - 0.3);
      sum += plastic;
      moment += plastic * out;
    }
    if (sum < 2) return {};
    return moment / sum;
  }

  // Middle and size from where beads lie along the rings; loose arcs hardly count.
  void move_onto_beads(Pose& pose) const {
    std::vector<Off> offs;
    for (std::size_t i = 0; i < trail_.points.size(); i += 10) {
      TrailPoint const& point = trail_.points[i];
      if (!point.prints || point.to_step_mm < 3) continue;
      double const radius = norm(point.place), turn = std::atan2(point.place.y, point.place.x);
      if (auto const off = bead_off(pose, radius, turn))
        offs.push_back({pose.turned(1 / radius * point.place), radius, *off});
    }
    if (offs.size() < 50) return;
    Eigen::Vector3d at = Eigen::Vector3d::Zero();
    for (int round = 0; round < 8; ++round) {
      Eigen::Matrix3d normal = 1e-6 * Eigen::Matrix3d::Identity();
      Eigen::Vector3d right = Eigen::Vector3d::Zero();
      for (Off const& off : offs) {
        Eigen::Vector3d const by(off.out.x, off.out.y, off.radius_mm);
        double const left = (off.off_mm - by.dot(at)) / loose_mm;
        double const weight = 1 / (1 + left * left);
        normal += weight * by * by.transpose();
        right += weight * off.off_mm * by;
      }
      at = normal.ldlt().solve(right);
    }
    pose.middle = pose.middle + Place2{at[0], at[1]};
    pose.scale *= 1 + at[2];
  }

  // How far the steps lie ahead of where they should, rad: of each the middle of its plastic.
  [[nodiscard]] double turn_off(Pose const& pose) const {
    std::vector<double> all;
    for (Step const& step : steps_)
      for (double const in : {-0.8, -0.4, 0.0, 0.4, 0.8}) {
        double const radius = step.radius_mm + in;
        double sum = 1e-9, moment = 0;
        for (double aside = -step_reach_mm; aside <= step_reach_mm; aside += 0.1) {
          double const there =
              std::min(1.0, plastic_at(pose, radius, step.turn_rad + aside / radius));
          double const plastic = std::max(0.0, there - 0.3);
          sum += plastic;
          moment += plastic * aside;
        }
        if (sum > 2) all.push_back(moment / sum / radius);
      }
    return all.empty() ? 0 : median_of(all);
  }

  void consider(double turn) {
    Pose pose = best_;
    pose.turn_rad = turn;
    double const now = score(pose);
    if (now <= score_) return;
    score_ = now;
    best_ = pose;
  }

  Pose search(Pose pose) {
    struct Try {
      Pose pose;
      double score;
    };
    std::vector<Try> all;
    for (bool const face_down : {false, true})
      for (double turn = 0; turn < turn_rad; turn += coarse_rad) {
        pose.face_down = face_down;
        pose.turn_rad = turn;
        all.push_back({pose, score(pose)});
      }
    auto const best = std::max_element(
        all.begin(), all.end(), [](Try const& a, Try const& b) { return a.score < b.score; });
    score_ = best->score;
    for (Try const& other : all) {
      double const off =
          std::abs(std::remainder(other.pose.turn_rad - best->pose.turn_rad, turn_rad));
      if (other.pose.face_down != best->pose.face_down || off > apart_rad)
        second_ = std::max(second_, other.score);
    }
    return best->pose;
  }

  struct Off {
    Place2 out;  // unit vector on the page
    double radius_mm, off_mm;
  };

  Field const& field_;
  Trail const& trail_;
  std::vector<Step> steps_;
  Pose best_;
  double score_ = 0, second_ = 0;
};

}  // namespace

Place2 Pose::turned(Place2 piece) const {
  double const x = face_down ? -piece.x : piece.x, y = piece.y;
  double const c = std::cos(turn_rad), s = std::sin(turn_rad);
  return {c * x - s * y, -(s * x + c * y)};
}

Pose find_pose(Field const& field, Trail const& trail, std::string const& path) {
  PoseFinder finder(field, trail);
  Pose const pose = finder.find();
  if (finder.on_rings(pose) < least_rings)
    throw Error(
        "no rings as the file has them lie on the page's field",
        {.file = path},
        "Give the G-code that this piece was printed with, and a picture of one piece on its "
        "page, its middle within 2 mm of the field's.");
  if (pose.steps_seen < field.least_seen || finder.second() > most_second)
    throw Error(fmt::format("the rings lie there, but {:.0f} % of the steps between them are where "
                            "the file has them: it may be another piece",
                            100 * pose.steps_seen),
                {.file = path},
                "Give the G-code that this piece was printed with (--seed and sizes too).");
  return pose;
}

}  // namespace meltlag::scan
