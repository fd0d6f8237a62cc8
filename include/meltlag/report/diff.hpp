// SPDX-License-Identifier: MIT
// Two files move by move, as a table or JSON; with --all as they come, else what changed most.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "meltlag/judge/change.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/rows.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {

enum class Show : std::uint8_t { most_changed, all };
enum class Form : std::uint8_t { text, json };

// Counts of what moves were turned into.
struct ChangeCounts {
  std::int64_t moves = 0, changed = 0;
  std::array<std::int64_t, judge::change_kinds> of{};  // by Change
  double e_added_mm = 0;                               // E-only moves added at stops
};

// Writes text through `out`. Keeps a few dozen rows at most.
class DiffView : public judge::RowSink {
 public:
  using Out = std::function<void(std::string_view)>;
  DiffView(Show show, Form form, Melt melt, Out out);

  void on_row(judge::MoveRow const& row) override;
  // The table's rest; for JSON everything but the moves follows, and ends the document.
  // Where the paths part, if they do; the figures where the melt is known.
  void finish(std::optional<judge::Parting> const& parting,
              std::optional<MetricsTable> const& figures = {});
  [[nodiscard]] ChangeCounts const& counts() const { return counts_; }

 private:
  struct Numbered {
    std::int64_t index = 0;
    judge::MoveRow row;
  };
  // A move that changed much, with its neighbours.
  struct Spot {
    double weight = 0;
    std::vector<Numbered> rows;
    int missing = 0;  // neighbours after it still to come
  };
  void consider(Numbered const& row);
  void write(judge::MoveRow const& row);
  void write_most_changed();

  Show show_;
  Form form_;
  Melt melt_;
  Out out_;
  Table table_;
  ChangeCounts counts_;
  std::vector<Numbered> last_;  // the rows before the present one
  std::vector<Spot> spots_;     // those that changed most
  std::string line_;
  bool first_ = true;
};

// "3,120 moves, 2,904 changed: …" and where the paths part; at most 80 columns.
[[nodiscard]] std::string to_text(ChangeCounts const& counts);
[[nodiscard]] nlohmann::json to_json(ChangeCounts const& counts);

}  // namespace meltlag::report
