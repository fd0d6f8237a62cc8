// SPDX-License-Identifier: MIT
#include "meltlag/scan/hardware.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "along.hpp"
#include "hardware_trail.hpp"
#include "read_picture.hpp"

namespace meltlag::scan {
namespace {

constexpr double middle_from_mm = 16, middle_to_mm = 26;  // of bead, for its width
constexpr double least_read = 0.6;                        // of the places there
constexpr double blob_reach_mm = 3;                       // from the stop, both ways
constexpr std::size_t gap_places = 4;                     // 0.6 mm: a drip is shorter

class StopReader {
 public:
  StopReader(ReadBead const& bead, Trail const& trail) : bead_(bead), trail_(trail) {
    std::vector<double> less;
    for (std::size_t i = 0; i < bead.widths.size(); ++i)
      if (bead.widths[i].doubt == Doubt::none)
        less.push_back(bead.widths[i].width_mm - bead.coarse_mm[i]);
    if (!less.empty()) shaded_mm_ = median_of(less);
  }

  [[nodiscard]] HardwareStop read(HardwareSpan const& span) const {
    HardwareStop out{.stop = span.stop, .flow_mm3_s = span.flow_mm3_s};
    out.bead_mm = middle_width(span);
    if (out.bead_mm <= 0) return out;
    out.blob_mm2 = blob(span, out.bead_mm);
    out.gap_mm = gap(span, out.bead_mm);
    return out;
  }

 private:
  [[nodiscard]] double at(std::size_t i) const { return trail_.points[i].at_mm; }
  // Between its edges, or what stands out with its shaded flanks added.
  [[nodiscard]] double seen_mm(std::size_t i) const {
    bool const edges = !std::isnan(bead_.left_mm[i]) && !std::isnan(bead_.right_mm[i]);
    if (edges) return bead_.left_mm[i] - bead_.right_mm[i];
    return bead_.coarse_mm[i] > 0 ? bead_.coarse_mm[i] + shaded_mm_ : 0;
  }
  [[nodiscard]] bool hidden(std::size_t i) const {
    Doubt const doubt = bead_.widths[i].doubt;
    return doubt == Doubt::off_picture || doubt == Doubt::touches;
  }

  [[nodiscard]] double middle_width(HardwareSpan const& span) const {
    std::vector<double> known;
    int places = 0;
    for (std::size_t i = span.from; i < span.stops; ++i) {
      if (at(i) < middle_from_mm || at(i) > middle_to_mm) continue;
      ++places;
      if (bead_.widths[i].doubt == Doubt::none) known.push_back(bead_.widths[i].width_mm);
    }
    if (known.empty() || static_cast<double>(known.size()) < least_read * places) return 0;
    return median_of(known);
  }

  [[nodiscard]] std::optional<double> blob(HardwareSpan const& span, double bead_mm) const {
    double const stop = (at(span.stops - 1) + at(span.stops)) / 2;
    double area = 0, before = 0;
    for (std::size_t i = span.from; i < span.to; ++i) {
      if (std::abs(at(i) - stop) > blob_reach_mm) continue;
      if (hidden(i)) return std::nullopt;
      area += seen_mm(i) * trail_step_mm;
      if (i < span.stops) before += trail_step_mm;
    }
    return area - bead_mm * before - std::numbers::pi / 8 * bead_mm * bead_mm;
  }

  [[nodiscard]] std::optional<double> gap(HardwareSpan const& span, double bead_mm) const {
    for (std::size_t i = span.from; i + gap_places <= span.stops; ++i) {
      double sum = 0;
      for (std::size_t k = i; k < i + gap_places; ++k) {
        if (hidden(k)) return std::nullopt;
        sum += seen_mm(k);
      }
      if (sum / static_cast<double>(gap_places) >= bead_mm / 2)
        return i == span.from ? 0 : (at(i) + at(i + gap_places - 1)) / 2;
    }
    return std::nullopt;
  }

  ReadBead const& bead_;
  Trail const& trail_;
  double shaded_mm_ = 0;
};

}  // namespace

HardwareScan scan_hardware(std::string const& gcode_path,
                           std::string const& picture_path,
                           ScanOptions const& options) {
  HardwareTrail const piece = read_hardware_trail(gcode_path);
  ReadPicture const picture = read_picture(picture_path, piece.trail, find_any_pose, options);
  ReadBead const bead = read_bead(picture, piece.trail, options);
  HardwareScan out{.stops = {},
                   .layer_height_mm = piece.trail.height_mm,
                   .pixel_mm = picture.metric.pixel_mm,
                   .face_down = picture.pose.face_down,
                   .turn_deg = picture.pose.turn_rad * 180 / std::numbers::pi};
  StopReader const reader(bead, piece.trail);
  for (HardwareSpan const& span : piece.beads) out.stops.push_back(reader.read(span));
  return out;
}

}  // namespace meltlag::scan
