// SPDX-License-Identifier: MIT
#include "meltlag/report/metrics_rows.hpp"

#include <fmt/format.h>

#include <functional>

#include "meltlag/base/vec.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using judge::PrintMetrics;

class Rows {
 public:
  explicit Rows(MetricsTable const& table) {
    columns_.push_back(&table.as_sliced);
    if (table.flow_set_right) columns_.push_back(&*table.flow_set_right);
    if (table.adapted) columns_.push_back(&*table.adapted);
  }
  using Text = std::function<std::string(PrintMetrics const&)>;
  void add(char const* name, char const* key, Text const& text, On on = On::both) {
    MetricsRow row{.name = name, .json = key, .values = {}, .on = on};
    for (PrintMetrics const* metrics : columns_) row.values.push_back(text(*metrics));
    rows_.push_back(std::move(row));
  }
  [[nodiscard]] std::vector<MetricsRow> rows() && { return std::move(rows_); }

 private:
  std::vector<PrintMetrics const*> columns_;
  std::vector<MetricsRow> rows_;
};

// "none" where there is nothing of it.
std::string some(bool any, std::string const& text) { return any ? text : "none"; }

void add_plastic(Rows& rows) {
  rows.add("misplaced plastic", "misplaced_share", [](PrintMetrics const& f) {
    return percent(f.misplaced_share());
  });
  rows.add("bead error (rms)", "bead_error_share", [](PrintMetrics const& f) {
    return percent(f.bead_error());
  });
  rows.add(
      "largest bead error over 2 mm",
      "bead_error_largest_share",
      [](PrintMetrics const& f) { return fmt::format("{:+.0f} %", 100 * f.bead_error_largest); },
      On::page);
  rows.add("blobs at stops, mean", "blob_mean_mm3", [](PrintMetrics const& f) {
    return some(f.blobs > 0, fmt::format("{:.3f} mm³", f.blob_mean_mm3()));
  });
  rows.add(
      "the same as a ball",
      "blob_mean_ball_mm",
      [](PrintMetrics const& f) {
        return some(f.blobs > 0, fmt::format("{:.2f} mm", ball_diameter(f.blob_mean_mm3())));
      },
      On::page);
  rows.add("gaps at starts, mean", "gap_mean_mm", [](PrintMetrics const& f) {
    return some(f.gaps > 0, fmt::format("{:.1f} mm", f.gap_mean_mm()));
  });
  rows.add("strings on travels", "string_total_mm3", [](PrintMetrics const& f) {
    return some(f.strings > 0, fmt::format("{:.1f} mm³", f.string_total_mm3));
  });
  rows.add("longest string", "string_longest_mm", [](PrintMetrics const& f) {
    return some(f.strings > 0, fmt::format("{:.1f} mm", f.string_longest_mm));
  });
  rows.add("stops with a blob", "blobs", [](PrintMetrics const& f) {
    return fmt::format("{} of {}", f.blobs, f.stops);
  });
  rows.add("starts with a gap", "gaps", [](PrintMetrics const& f) {
    return fmt::format("{} of {}", f.gaps, f.starts);
  });
}

void add_screw(Rows& rows, std::optional<melt::PartsLag> const& parts) {
  rows.add("peak screw rate", "peak_e_mm_s", [](PrintMetrics const& f) {
    return fmt::format("{:.1f} mm/s of E", f.peak_e_mm_s);
  });
  rows.add("peak flow fed forward", "peak_forward_mm3_s", [](PrintMetrics const& f) {
    return fmt::format("{:.1f} mm³/s", f.peak_forward_mm3_s);
  });
  rows.add("peak run-on", "peak_run_on_mm3", [](PrintMetrics const& f) {
    return fmt::format("{:.2f} mm³", f.peak_run_on_mm3);
  });
  if (!parts) return;
  rows.add("peak pressure", "peak_pressure_mpa", [&](PrintMetrics const& f) {
    return fmt::format("{:.2f} MPa", melt::pressure_at_run_on_mpa(*parts, f.peak_run_on_mm3));
  });
  rows.add("peak thrust", "peak_thrust_n", [&](PrintMetrics const& f) {
    double const p = melt::pressure_at_run_on_mpa(*parts, f.peak_run_on_mm3);
    return fmt::format("{:.0f} N", p * parts->area.bore_mm2);
  });
}

// The page's number is held against its key, so that it says how little "none" is.
void add_in_vain(Rows& rows, char const* name, char const* key, double PrintMetrics::*starved_mm3) {
  auto const amount = [=](PrintMetrics const& f) {
    return fmt::format("{:.1f} mm³", f.*starved_mm3);
  };
  constexpr double least_mm3 = 0.05;
  rows.add(
      name,
      key,
      [=](PrintMetrics const& f) { return some(f.*starved_mm3 >= least_mm3, amount(f)); },
      On::terminal);
  rows.add(name, key, amount, On::page);
}

}  // namespace

std::vector<MetricsRow> metrics_rows(MetricsTable const& table) {
  Rows rows(table);
  if (table.as_sliced.wanted_mm3 > 0) add_plastic(rows);
  add_in_vain(rows, "turned in vain", "starved_mm3", &PrintMetrics::starved_mm3);
  add_in_vain(rows, "the same by kept purge", "starved_kept_mm3", &PrintMetrics::starved_kept_mm3);
  rows.add("plastic wanted on the path", "wanted_mm3", [](PrintMetrics const& f) {
    return fmt::format("{:.1f} mm³", f.wanted_mm3);
  });
  add_screw(rows, table.parts);
  rows.add(
      "planned time", "planned_s", [](PrintMetrics const& f) { return duration(f.planned_s); });
  rows.add("lines, moves", "lines", [](PrintMetrics const& f) {
    return fmt::format("{}, {}", f.lines, f.moves);
  });
  rows.add("peak lines per second", "peak_lines_per_s", [](PrintMetrics const& f) {
    return fmt::format("{:.0f}", f.peak_lines_per_s);
  });
  return std::move(rows).rows();
}

}  // namespace meltlag::report
