// SPDX-License-Identifier: MIT
#include "fit_rows.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::calibrate {
namespace {

constexpr double band_slack_sd = 5;
constexpr double not_counted = 0.35;  // by the robust loss

TraceMark const* mark_of(PrintedPath const& path, Reading const& reading) {
  return reading.lines.empty() ? nullptr : path.mark_of(reading.lines.front());
}

double off_sd(RowOutcome const& row) { return (row.measured - row.predicted) / row.sd; }

bool looks_wrong(RowOutcome const& row) {
  return std::abs(off_sd(row)) > wrong_beyond_sd || row.counted < not_counted;
}

// True when another copy of the same group was read at about the same place and is as predicted.
bool a_copy_is_fine(PrintedPath const& path,
                    std::vector<Reading> const& readings,
                    std::vector<RowOutcome> const& rows,
                    std::size_t index) {
  TraceMark const* const mark = mark_of(path, readings[index]);
  if (mark == nullptr) return false;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    TraceMark const* const other = mark_of(path, readings[i]);
    bool const copy = i != index && other != nullptr && other->group == mark->group &&
                      rows[i].kind == Kind::width;
    if (copy && !looks_wrong(rows[i])) return true;
  }
  return false;
}

}  // namespace

std::vector<RowOutcome> judge_rows(PrintedPath const& path,
                                   std::vector<Reading> const& readings,
                                   std::vector<Predicted> const& predicted,
                                   Eigen::VectorXd const& counted,
                                   std::vector<Band> const& bands) {
  std::vector<RowOutcome> rows;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    Reading const& reading = readings[i];
    rows.push_back({.row = reading.row,
                    .trace = reading.trace,
                    .kind = reading.kind,
                    .ruler_mm = reading.ruler_mm,
                    .measured = *reading.value,
                    .predicted = predicted[i].value,
                    .sd = predicted[i].sd,
                    .counted = counted[static_cast<Eigen::Index>(i)],
                    .thin = predicted[i].thin});
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    RowOutcome& row = rows[i];
    double const slack = band_slack_sd * row.sd;
    if (row.measured < bands[i].least - slack || row.measured > bands[i].most + slack)
      row.verdict = RowVerdict::queried;
    else if (looks_wrong(row))
      row.verdict =
          off_sd(row) < 0 && row.kind == Kind::width && a_copy_is_fine(path, readings, rows, i)
              ? RowVerdict::feed_trouble
              : RowVerdict::looks_wrong;
  }
  return rows;
}

std::optional<Value> drift_of(PrintedPath const& path,
                              std::vector<Reading> const& readings,
                              std::vector<RowOutcome> const& rows) {
  // Weighted means of the relative errors of first and last copies.
  struct Mean {
    double weight = 0, sum = 0;
    int count = 0;
  } first, last;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    TraceMark const* const mark = mark_of(path, readings[i]);
    if (mark == nullptr || rows[i].kind != Kind::width || rows[i].verdict != RowVerdict::fine)
      continue;
    if (mark->copy != 1 && mark->copy != 3) continue;
    Mean& mean = mark->copy == 1 ? first : last;
    double const relative_sd = rows[i].sd / rows[i].predicted;
    double const weight = 1 / (relative_sd * relative_sd);
    mean.weight += weight;
    mean.sum += weight * (rows[i].measured / rows[i].predicted - 1);
    ++mean.count;
  }
  if (first.count < 2 || last.count < 2) return {};
  return Value{.value = last.sum / last.weight - first.sum / first.weight,
               .sd = std::sqrt(1 / first.weight + 1 / last.weight)};
}

}  // namespace meltlag::calibrate
