// SPDX-License-Identifier: MIT
// What the rows of a sheet would show of a print, for any machine.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "meltlag/compare/comparison.hpp"
#include "meltlag/reading/caliper.hpp"
#include "row_spots.hpp"
#include "simulated_print.hpp"

namespace meltlag::compare {

// What one machine would show of a row.
struct RowValue {
  double value = 0;
  double place_sd = 0;    // of the place or moment that is looked at, from the tools
  double per_second = 0;  // by time: change with the clock
  bool thin = false;      // the bead is thinner than high: less sure
};

class RowPredictor {
 public:
  // `times_s[i]`: planned time of rows by time. `curve_s` ascending: more times to look at.
  RowPredictor(std::span<MeasuredRow const> rows,
               Spots const& spots,
               std::span<double const> times_s,
               std::span<double const> curve_s,
               CompareOptions const& options);

  [[nodiscard]] Marks const& marks() const { return marks_; }
  [[nodiscard]] RowValue value(SimulatedPrint const& laid,
                               std::size_t row,
                               std::size_t machine) const;
  // The thrust that a steady flow makes; other kinds as value() of a machine without lag.
  [[nodiscard]] double lagless(SimulatedPrint const& laid,
                               std::size_t row,
                               std::size_t machine) const;
  [[nodiscard]] double thrust_at_flow_n(double flow_mm3_s, double nozzle_c) const;

  // Places to ask the original about; known once the print was laid down.
  [[nodiscard]] std::vector<double> asked_ways(SimulatedPrint const& laid) const;
  // `asked_mm3`: as many as asked_ways(), in order.
  [[nodiscard]] double asked(SimulatedPrint const& laid,
                             std::size_t row,
                             std::vector<double> const& ways_mm,
                             std::vector<double> const& asked_mm3) const;
  [[nodiscard]] CurvePoint curve_point(SimulatedPrint const& laid,
                                       double time_s,
                                       std::vector<double> const& ways_mm,
                                       std::vector<double> const& asked_mm3) const;

  // Line, time and place of a row.
  void locate(SimulatedPrint const& laid, std::size_t row, ComparedRow& out) const;
  [[nodiscard]] double layer_height_mm(std::size_t row) const { return models_[row].height_mm; }

 private:
  struct RowModel {
    MeasuredKind kind = MeasuredKind::width;
    double way_mm = 0;  // the place itself
    reading::WayRange before, here, behind;
    std::optional<reading::WayRange> anywhere;  // the whole line, where no place on it is given
    double start_s = 0, end_s = 0;              // line_flow
    double time_s = 0;                          // by time
    double height_mm = 0;
  };
  [[nodiscard]] RowModel model_of(MeasuredRow const& row, Spot const& spot, double time_s) const;
  void add_marks(RowModel const& model);
  [[nodiscard]] double width(SimulatedPrint const& laid,
                             reading::WayRange const& w,
                             double h,
                             std::size_t m) const;
  [[nodiscard]] double at_time(SimulatedPrint const& laid,
                               MeasuredKind kind,
                               double t_s,
                               std::size_t m) const;
  [[nodiscard]] double asked_flow(Moment const& moment,
                                  std::vector<double> const& ways_mm,
                                  std::vector<double> const& asked_mm3) const;

  CompareOptions const& options_;
  std::vector<RowModel> models_;
  std::vector<double> curve_s_;
  Marks marks_;
};

}  // namespace meltlag::compare
