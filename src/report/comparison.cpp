// SPDX-License-Identifier: MIT
#include "meltlag/report/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "meltlag/report/comparison_text.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

using compare::Finding;
using compare::KindSummary;
using compare::PrintComparison;

constexpr std::size_t most_rows_shown = 12;
constexpr double weak_correlation = 0.7;

std::string signed_percent(double share) { return fmt::format("{:+.1f} %", 100 * share); }

std::string rows_table(PrintComparison const& c) {
  // The rows that are furthest off, in the order of the print.
  std::vector<compare::ComparedRow const*> rows;
  for (compare::ComparedRow const& row : c.rows) rows.push_back(&row);
  std::ranges::stable_sort(rows, [](auto const* a, auto const* b) {
    return std::abs(a->off()) * b->expected_sd() > std::abs(b->off()) * a->expected_sd();
  });
  if (rows.size() > most_rows_shown) rows.resize(most_rows_shown);
  std::ranges::stable_sort(rows, {}, [](auto const* row) { return row->print_s; });
  Table const table{{{"line", "", 8},
                     {"at", "mm", 6},
                     {"kind", "", 6, Align::left},
                     {"measured", "", 9},
                     {"predicted", "", 14},
                     {"asked", "for", 8},
                     {"off", "by", 8},
                     {"", "expected", 8, Align::left}}};
  std::string out = table.header();
  for (auto const* row : rows) {
    compare::MeasuredRow const& m = row->measured;
    table.append_row(out,
                     {std::to_string(row->line),
                      m.at_mm ? number(*m.at_mm, 1) : "",
                      cut_to(compare::name_of(m.kind), 6),
                      plus_minus(m.value, 0),
                      plus_minus(row->predicted, row->expected_sd()),
                      std::isfinite(row->asked) ? plus_minus(row->asked, 0) : "",
                      fmt::format("{:+.3g}", row->off()),
                      row->as_expected() ? "yes" : "no"});
  }
  if (c.rows.size() > rows.size())
    out += fmt::format("    … and {} more that are less far off; --csv lists them all.\n",
                       c.rows.size() - rows.size());
  return out;
}

std::string kinds_table(PrintComparison const& c) {
  Table const table{{{"", "", 15, Align::left},
                     {"rows", "", 5},
                     {"bias", "± allowed", 17},
                     {"rms", "off", 8},
                     {"rms", "expected", 8},
                     {"explained", "by lag", 9},
                     {"within", "expected", 8}}};
  std::string out = table.header();
  for (KindSummary const& k : c.kinds) {
    table.append_row(out,
                     {fmt::format("{}, {}", compare::name_of(k.kind), compare::unit_of(k.kind)),
                      std::to_string(k.offs.count),
                      plus_minus(k.offs.bias, k.bias_allowed),
                      plus_minus(k.offs.rms, 0),
                      plus_minus(k.expected_rms, 0),
                      percent(k.share_explained),
                      fmt::format("{:.0f} %",
                                  100.0 * static_cast<double>(k.as_expected) /
                                      static_cast<double>(k.offs.count))});
  }
  for (KindSummary const& k : c.kinds)
    out += list_item(
        fmt::format("{}: measuring itself leaves at most {} to be explained; lag explains {}.",
                    compare::name_of(k.kind),
                    percent(std::max(0.0, k.most_explainable)),
                    percent(k.share_explained)));
  return out;
}

std::string worst_list(PrintComparison const& c) {
  std::string out;
  for (compare::RowStretch const& s : c.worst) {
    if (!stands_out(s)) break;
    out += list_item(fmt::format("{}, {}: {} of {} {:+.3g} {} off on average ({})",
                                 place_text(s.first_line, s.last_line),
                                 duration(std::max(0.0, s.first_s)),
                                 compare::name_of(s.kind),
                                 s.rows == 1 ? "one row" : fmt::format("{} rows", s.rows),
                                 s.mean_off,
                                 compare::unit_of(s.kind),
                                 signed_percent(s.mean_off_share)));
  }
  return out;
}

// "Starts after long travels are 12 % thin": the stages that say most about a wrong run-on.
std::string stage_text(PrintComparison const& c) {
  std::string out;
  for (compare::StageOffs const& s : c.stages) {
    if (s.rows < 3 || std::abs(s.off_share) < 2 * s.off_share_se || std::abs(s.off_share) < 0.02)
      continue;
    char const* const what = s.stage == compare::Stage::steady ? "Steady stretches"
                             : s.stage == compare::Stage::running_on
                                 ? "Where plastic runs on, stretches"
                             : s.long_travel ? "Starts and rises after long travels"
                                             : "Starts and rises after short travels";
    out += fmt::format("{} are {:.0f} % {} ({} rows). ",
                       what,
                       100 * std::abs(s.off_share),
                       s.off_share < 0 ? "too thin" : "too fat",
                       s.rows);
  }
  return out;
}

std::string refit_command(ComparisonNames const& names) {
  return fmt::format("print and measure a test piece (meltlag calibrate print --profile {})",
                     names.profile);
}

std::string run_on_text(PrintComparison const& c, ComparisonNames const& names, bool larger) {
  return stage_text(c) +
         fmt::format(
             "The run-on is {} than the profile says: × {} by these rows. {} To settle it, {}.",
             larger ? "larger" : "smaller",
             plus_minus(c.refit.run_on, c.refit.run_on_sd),
             larger ? "Or granules bridge in the hopper, or a screw or bracket has come "
                      "loose: look there first."
                    : "Or the melt is hotter, or something was made stiffer, than when the "
                      "lag was measured.",
             refit_command(names));
}

std::string holds_words(PrintComparison const& c) {
  std::string out =
      "The profile holds as far as these rows can show: what is off is what measuring and the "
      "profile's own ± leave open. ";
  if (c.refit.run_on_sd > 0)
    return out +
           fmt::format(
               "By the rows alone the run-on is × {} of the profile's. Nothing to refit; keep "
               "the sheet beside the profile.",
               plus_minus(c.refit.run_on, c.refit.run_on_sd));
  return out +
         "They do not determine the run-on by themselves: measure more beads just after starts and "
         "stops.";
}

std::string factor_words(PrintComparison const& c, ComparisonNames const& names, bool larger) {
  return fmt::format(
      "Everything is {}: the delivered factor is × {} of the profile's. {} Weigh the part: meltlag "
      "compare {} --profile {} --mass GRAMS; or weigh cups: meltlag calibrate feed.",
      larger ? "too fat" : "too thin",
      plus_minus(c.refit.delivered_factor, c.refit.delivered_factor_sd),
      larger ? "Or beads are flatter than the layer height says."
             : "Or the hopper starves the screw, or beads are higher than the layer height says.",
      names.file,
      names.profile);
}

}  // namespace

std::string place_text(std::int64_t first, std::int64_t last) {
  if (first <= 0 && last <= 0) return "beside the print";
  return last <= first ? fmt::format("line {}", first) : fmt::format("lines {}–{}", first, last);
}

Sentences clock_findings(PrintComparison const& c) {
  compare::Clock const& clock = *c.clock;
  Sentences out = {
      clock.found
          ? fmt::format("Planned time is the sheet's {}{} s, found by matching the two. "
                        "A wrong lag hides in this in part: --clock-offset S where it is known.",
                        clock.offset_s < 0 ? "" : "+",
                        plus_minus(clock.offset_s, clock.sd_s))
          : fmt::format("Planned time is the sheet's {:+.2f} s, {}.",
                        clock.offset_s,
                        clock.offset_s != 0 ? "as given" : "taken as it stands")};
  if (clock.found && clock.correlation < weak_correlation)
    out.push_back(
        fmt::format("The two records are hardly alike there (correlation {:.2f}): is it "
                    "a record of this print?",
                    clock.correlation));
  if (clock.drift_over_s > 0 &&
      std::abs(clock.drift_s) > 3 * clock.drift_sd_s + 0.002 * clock.drift_over_s)
    out.push_back(
        fmt::format("The two clocks part by {:+.2f} ± {:.2f} s in {}: the planned time is off. "
                    "Check [machine] with --took.",
                    clock.drift_s,
                    clock.drift_sd_s,
                    duration(clock.drift_over_s)));
  if (c.unknown_waits > 0)
    out.push_back(fmt::format(
        "The file waits {} for a length that nobody knows; it counts as no time, so that rows "
        "before and after such a wait do not share one clock.",
        c.unknown_waits == 1 ? "once" : fmt::format("{} times", c.unknown_waits)));
  return out;
}

std::string finding_text(Finding finding, PrintComparison const& c, ComparisonNames const& names) {
  switch (finding) {
    case Finding::as_expected:
      return holds_words(c);
    case Finding::run_on_larger:
      return run_on_text(c, names, true);
    case Finding::run_on_smaller:
      return run_on_text(c, names, false);
    case Finding::factor_larger:
      return factor_words(c, names, true);
    case Finding::factor_smaller:
      return factor_words(c, names, false);
    case Finding::thin_after_travel:
      return stage_text(c) +
             "No other run-on explains this: while the head travels plastic oozes away, or "
             "granules bridge in the hopper. Watch the nozzle on a long travel and knock on the "
             "hopper before you refit anything.";
    case Finding::uneven:
      return "Rows scatter more than calipers and profile explain, in no direction that the model "
             "knows: the feed wanders, or rows are mixed up or of another print. See the worst "
             "stretches; then meltlag calibrate feed shows how even the feed is.";
    case Finding::too_few:
      return "Fewer than five rows: take the reading as a hint, and measure more places, some just "
             "after starts and some where the bead is steady.";
  }
  return {};
}

std::string to_text(PrintComparison const& c, ComparisonNames const& names) {
  std::string out = rows_table(c) + "\nOff by\n" + kinds_table(c);
  std::string const worst = worst_list(c);
  if (!worst.empty()) out += "\nWorst stretches\n" + worst;
  if (c.clock) out += "\nThe clock\n" + item_list(clock_findings(c));
  out += "\nWhat it says\n";
  for (Finding const finding : c.findings) out += list_item(finding_text(finding, c, names));
  return out;
}

}  // namespace meltlag::report
