// SPDX-License-Identifier: MIT
// Move rows as CSV and JSON, written as they come.
#pragma once

#include <iosfwd>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "meltlag/judge/change.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/melt/parts.hpp"

namespace meltlag::report {

// What a file does, one row for each of its lines (columns: line, t_s, dt_s, length_mm,
// commanded_mm3_s, predicted_mm3_s, wanted_mm3, got_mm3, run_on_mm3, pressure_mpa, width_mm). Flows
// are means over the line; run-on and pressure hold at its end; a cell is empty where its value is
// not known, and all but the first are on lines that move nothing.
class PredictCsv : public judge::RowSink {
 public:
  // `out` must outlive this. Writes the header at once.
  PredictCsv(std::ostream& out, std::optional<melt::PartsLag> parts);
  void on_row(judge::MoveRow const& row) override;
  // Call last, with the number of lines that the file has.
  void finish(std::int64_t lines);

 private:
  void pass_lines(std::int64_t until);
  std::ostream& out_;
  std::optional<melt::PartsLag> parts_;
  std::int64_t last_line_ = 0;  // written
  judge::LayerFinder layers_;
  std::string line_;
};

// Whether a lag law is known, so that got and wanted mean something.
enum class Melt : std::uint8_t { unknown, known };

// Move by move, before and after.
class DiffCsv : public judge::RowSink {
 public:
  DiffCsv(std::ostream& out, Melt melt);
  void on_row(judge::MoveRow const& row) override;

 private:
  std::ostream& out_;
  Melt melt_;
  std::string line_;
};

[[nodiscard]] nlohmann::json to_json(judge::MoveRow const& row, Melt melt);

}  // namespace meltlag::report
