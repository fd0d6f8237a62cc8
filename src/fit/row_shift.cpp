// SPDX-License-Identifier: MIT
#include "meltlag/fit/row_shift.hpp"

#include <algorithm>
#include <cmath>

#include "meltlag/base/error.hpp"

namespace meltlag::fit {
namespace {

constexpr double most_counted = 16, bad_misfit = 2.5, far_better = 0.4;

// Each value in the row `by` further on; nothing where too many would fall off or land in rows of
// another kind.
std::optional<std::vector<reading::Reading>> moved_values(std::vector<reading::Reading> const& rows,
                                                          int by) {
  constexpr double most_lost = 0.2;
  std::vector<reading::Reading> out;
  std::size_t values = 0;
  auto const count = static_cast<std::ptrdiff_t>(rows.size());
  for (std::ptrdiff_t i = 0; i < count; ++i) {
    if (!rows[static_cast<std::size_t>(i)].value) continue;
    ++values;
    if (i + by < 0 || i + by >= count) continue;
    reading::Reading const& from = rows[static_cast<std::size_t>(i)];
    reading::Reading const& to = rows[static_cast<std::size_t>(i + by)];
    if (from.kind != to.kind) continue;
    out.push_back(to);
    out.back().value = from.value;
  }
  bool const enough =
      static_cast<double>(out.size()) >= (1 - most_lost) * static_cast<double>(values);
  return enough ? std::optional(std::move(out)) : std::nullopt;
}

std::optional<FitResult> fit_of(reading::PrintedPath const& path,
                                std::optional<std::vector<reading::Reading>> const& readings,
                                FitOptions const& options) {
  if (!readings) return std::nullopt;
  try {
    return fit(path, *readings, options);
  } catch (Error const&) {  // too few of them, or all alike
    return std::nullopt;
  }
}

}  // namespace

double row_misfit(FitResult const& fit) {
  if (fit.rows.empty()) return 0;
  double sum = 0;
  for (RowOutcome const& row : fit.rows)
    sum += std::min(most_counted, std::pow((row.measured - row.predicted) / row.sd, 2));
  return sum / static_cast<double>(fit.rows.size());
}

std::optional<RowShift> suspect_row_shift(reading::PrintedPath const& path,
                                          std::vector<reading::Reading> const& rows,
                                          FitOptions const& options,
                                          FitResult const& fit) {
  double const misfit = row_misfit(fit);
  if (misfit < bad_misfit) return std::nullopt;
  std::optional<RowShift> best;
  for (int const by : {-1, 1}) {
    std::optional<FitResult> moved = fit_of(path, moved_values(rows, by), options);
    if (!moved) continue;
    double const misfit_moved = row_misfit(*moved);
    if (misfit_moved > far_better * misfit) continue;
    if (best && best->misfit_moved <= misfit_moved) continue;
    best = RowShift{by, misfit, misfit_moved, *std::move(moved)};
  }
  return best;
}

}  // namespace meltlag::fit
