// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include <cmath>
#include <iterator>

#include "meltlag/scan/widths.hpp"

namespace meltlag::scan {
namespace {

constexpr double enough_share = 0.6;
constexpr double alike_mm = 0.5;     // errors of single places are alike over this length
constexpr double place_mm = 0.15;    // of a single place
constexpr double common_mm = 0.004;  // what does not average out: light, threshold

class SheetWriter {
 public:
  SheetWriter(ScanResult const& result, double every_mm) : result_(result), every_mm_(every_mm) {}

  std::string write() {
    out_ = "trace,ruler_mm,kind,value,lines,at_mm,length_mm,sd_mm,turn_deg,note\n";
    std::vector<Width> const& widths = result_.widths;
    std::size_t from = 0;
    double ring_starts = 0;
    for (std::size_t i = 0; i <= widths.size(); ++i) {
      bool const ends = i == widths.size() || widths[i].ring != widths[from].ring ||
                        widths[i].prints != widths[from].prints ||
                        widths[i].way_mm - widths[from].way_mm >= every_mm_;
      if (!ends) continue;
      if (from == 0 || widths[from].ring != widths[from - 1].ring)
        ring_starts = widths[from].way_mm;
      write_width(from, i, ring_starts);
      from = i;
    }
    for (Run const& run : result_.runs) write_run(run);
    return std::move(out_);
  }

 private:
  // The place of from … to nearest to `way_mm`, which becomes its own where the next place lies on
  // another move.
  [[nodiscard]] Width const& nearest(double& way_mm, std::size_t from, std::size_t to) const {
    std::vector<Width> const& widths = result_.widths;
    std::size_t middle = from;
    for (std::size_t i = from; i < to; ++i)
      if (std::abs(widths[i].way_mm - way_mm) < std::abs(widths[middle].way_mm - way_mm))
        middle = i;
    std::size_t const next = way_mm < widths[middle].way_mm ? middle - 1 : middle + 1;
    bool const same_move = next >= from && next < to && widths[next].line == widths[middle].line;
    if (!same_move) way_mm = widths[middle].way_mm;
    return widths[middle];
  }

  // The row stands for the stretch from its first to its last believed place: next to a gap, where
  // the bead is too thin to be read, the mean is that of the part that was read.
  void write_width(std::size_t from, std::size_t to, double ring_starts_mm) {
    std::vector<Width> const& widths = result_.widths;
    auto const places = static_cast<double>(to - from);
    while (from < to && widths[from].doubt != Doubt::none) ++from;
    while (to > from && widths[to - 1].doubt != Doubt::none) --to;
    double sum = 0, variance = 0, way = 0;
    int count = 0;
    for (std::size_t i = from; i < to; ++i) {
      Width const& width = widths[i];
      if (width.doubt != Doubt::none) continue;
      ++count;
      sum += width.width_mm;
      way += width.way_mm;
      variance += width.sd_mm * width.sd_mm;
    }
    if (count == 0 || count < enough_share * places) return;
    // Where places were left out the row stands for the middle of those that were not.
    way /= count;
    Width const& there = nearest(way, from, to);
    double const between = widths[to - 1].way_mm - widths[from].way_mm;
    double const length =
        between + (to - from > 1 ? between / static_cast<double>(to - from - 1) : place_mm);
    double const independent = std::max(1.0, length / alike_mm);
    double const sd = std::sqrt(variance / count / independent + common_mm * common_mm);
    fmt::format_to(std::back_inserter(out_),
                   "{},{:.2f},width,{:.4f},{},{:.3f},{:.2f},{:.4f},{:.2f},\n",
                   there.ring,
                   way - ring_starts_mm,
                   sum / count,
                   there.line,
                   there.at_mm + way - there.way_mm,
                   length,
                   sd,
                   there.turn_deg);
  }

  void write_run(Run const& run) {
    if (run.tail_known)
      fmt::format_to(std::back_inserter(out_),
                     "{},0,tail,{:.2f},{},0,,,,until half the width before\n",
                     run.ring,
                     run.tail_mm,
                     run.stop_line);
    if (run.gap_known)
      fmt::format_to(std::back_inserter(out_),
                     "{},0,gap,{:.2f},{},0,,,,from the restart to half the width after\n",
                     run.ring,
                     run.gap_mm,
                     run.start_line);
  }

  ScanResult const& result_;
  double every_mm_;
  std::string out_;
};

}  // namespace

std::vector<MeanWidth> mean_widths(ScanResult const& result, double every_mm) {
  std::vector<MeanWidth> out;
  std::vector<Width> const& widths = result.widths;
  std::size_t from = 0;
  for (std::size_t i = 0; i <= widths.size(); ++i) {
    bool const ends = i == widths.size() || widths[i].line != widths[from].line ||
                      widths[i].way_mm - widths[from].way_mm >= every_mm;
    if (!ends) continue;
    MeanWidth mean{.line = widths[from].line};
    int count = 0;
    for (std::size_t k = from; k < i; ++k) {
      if (!widths[k].prints || widths[k].doubt != Doubt::none) continue;
      ++count;
      mean.at_mm += widths[k].at_mm;
      mean.width_mm += widths[k].width_mm;
    }
    if (count > 0 && count >= enough_share * static_cast<double>(i - from)) {
      mean.at_mm /= count;
      mean.width_mm /= count;
      out.push_back(mean);
    }
    from = i;
  }
  return out;
}

std::string write_scan_sheet(ScanResult const& result, double every_mm) {
  return SheetWriter(result, every_mm).write();
}

}  // namespace meltlag::scan
