// SPDX-License-Identifier: MIT
#include "asked_for.hpp"

#include <algorithm>

namespace meltlag::compare {
namespace {

class AskedVolumes : public gcode::MeaningSink {
 public:
  explicit AskedVolumes(std::span<double const> ways_mm) : ways_mm_(ways_mm) {}

  void on_move(gcode::Move const& move) override {
    if (move.kind == gcode::MoveKind::e_only || move.length_mm <= 0) return;
    double const volume = move.kind == gcode::MoveKind::print ? move.volume_mm3 : 0;
    double const end = way_mm_ + move.length_mm;
    while (asked_.size() < ways_mm_.size() && ways_mm_[asked_.size()] <= end) {
      double const share = (ways_mm_[asked_.size()] - way_mm_) / move.length_mm;
      asked_.push_back(volume_mm3_ + std::clamp(share, 0.0, 1.0) * volume);
    }
    way_mm_ = end;
    volume_mm3_ += volume;
  }

  [[nodiscard]] double way_mm() const { return way_mm_; }
  [[nodiscard]] std::vector<double> asked() && {
    asked_.resize(ways_mm_.size(), volume_mm3_);
    return std::move(asked_);
  }

 private:
  std::span<double const> ways_mm_;
  std::vector<double> asked_;
  double way_mm_ = 0, volume_mm3_ = 0;
};

}  // namespace

double way_of(std::string const& path, motion::WalkOptions const& options, Notices& notices) {
  AskedVolumes volumes({});
  gcode::ProgramReader(path, motion::read_options(options), notices).read_all(volumes);
  return volumes.way_mm();
}

std::vector<double> asked_until(std::string const& path,
                                std::span<double const> ways_mm,
                                motion::WalkOptions const& options,
                                Notices& notices) {
  AskedVolumes volumes(ways_mm);
  gcode::ProgramReader(path, motion::read_options(options), notices).read_all(volumes);
  return std::move(volumes).asked();
}

}  // namespace meltlag::compare
