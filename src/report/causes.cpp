// SPDX-License-Identifier: MIT
#include "meltlag/report/causes.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "meltlag/report/cause_names.hpp"
#include "meltlag/report/cause_text.hpp"
#include "meltlag/report/metrics.hpp"
#include "meltlag/report/row_list.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::report {
namespace {

constexpr std::size_t bar_columns = 76, name_columns = 24;

std::string percents(melt::Uncertain const& share) {
  return plus_minus(100 * share.value, 100 * share.sd);
}

Table causes_table() {
  return Table{{{"cause", "", name_columns + 2, Align::left},
                {"run-on", "mm³", 13},
                {"lag", "s", 15},
                {"share", "%", 11},
                {"gives", "mm", 10}}};
}

void append_causes(std::string& out, melt::Causes const& causes) {
  Table const table = causes_table();
  out += table.header();
  std::vector<double> shares;
  std::vector<melt::Cause> sorted = causes.causes;
  std::ranges::stable_sort(
      sorted, std::greater<>{}, [](melt::Cause const& c) { return c.share.value; });
  for (melt::Cause const& cause : sorted) {
    double const deflection = cause.deflection_mm.value;
    table.append_row(out,
                     {fmt::format("{} {}",
                                  letter(shares.size()),
                                  cut_to(cause_name(cause.kind, cause.name), name_columns)),
                      plus_minus(cause.run_on_mm3.value, cause.run_on_mm3.sd),
                      plus_minus(cause.lag_s.value, cause.lag_s.sd),
                      percents(cause.share),
                      deflection > 0 ? plus_minus(deflection, 0) : ""});
    shares.push_back(cause.share.value);
  }
  table.append_row(out,
                   {"  together",
                    plus_minus(causes.run_on_mm3.value, causes.run_on_mm3.sd),
                    plus_minus(causes.lag_s.value, causes.lag_s.sd),
                    "100"});
  out += bar_of_shares(shares, bar_columns) + "\n\n";
}

void append_changes(std::string& out, CausesPage const& page) {
  if (!page.now) return;
  RowList list = change_rows(page);
  for (auto& row : list.rows) row[0].text = cut_keeping_end(row[0].text, list.columns[0].width, 3);
  out += "\n" + to_text(list);
}

void append_parts(std::string& out, CausesPage const& page) {
  if (!page.causes) {
    out += list_item(
        fmt::format("The parts say nothing yet without {}.", fmt::join(page.missing, ", ")));
    return;
  }
  append_causes(out, *page.causes);
  for (std::string const& words :
       {thrust_text(*page.causes), volume_text(*page.causes), doubt_text(*page.causes)})
    out += list_item(words);
  if (page.back_leak) out += list_item(leak_text(*page.back_leak));
}

void append_measured(std::string& out, CausesPage const& page) {
  if (!page.measured) {
    out += "\nNo measured lag to compare with: [lag] is not in the profile.\n";
    return;
  }
  melt::Uncertain const lag = melt::lag_at_flow(*page.measured, page.at_flow_mm3_s);
  melt::Uncertain const run_on = melt::run_on_at_flow(*page.measured, page.at_flow_mm3_s);
  out += "\nMeasured against parts\n";
  out += list_item(fmt::format("Measured: run-on {} mm³, lag {} s.",
                               plus_minus(run_on.value, run_on.sd),
                               plus_minus(lag.value, lag.sd)));
  if (page.finding) out += list_item(in_words(*page.finding));
}

}  // namespace

std::string bar_of_shares(std::vector<double> const& shares, std::size_t width) {
  std::vector<std::size_t> columns;
  std::size_t used = 0;
  for (double const share : shares) {
    auto const wide = static_cast<std::size_t>(std::lround(share * static_cast<double>(width)));
    columns.push_back(share > 0 ? std::max<std::size_t>(wide, 1) : 0);
    used += columns.back();
  }
  if (!columns.empty()) {  // rounding goes to the widest
    auto const widest = std::ranges::max_element(columns);
    if (used <= width || *widest > used - width) *widest = *widest + width - used;
  }
  std::string bar = "|";
  for (std::size_t i = 0; i < columns.size(); ++i) bar.append(columns[i], letter(i));
  return bar + "|";
}

std::string in_words(melt::Finding const& finding) {
  melt::Uncertain const d = finding.difference_mm3;
  std::string const range = fmt::format("{} to {}",
                                        plus_minus(finding.least_parts_mm3, 0),
                                        plus_minus(finding.parts_mm3.value, finding.parts_mm3.sd));
  std::string const text = fmt::format(
      "The parts explain {} mm³, from the screw's area to the bore's; measured less "
      "the bore's: {} mm³.",
      range,
      plus_minus(d.value, d.sd));
  std::string const unsure =
      finding.measured_mm3.sd > 0 ? "" : " The measured run-on has no ±: give run_on_mm3_sd.";
  if (finding.reading == melt::Reading::more)
    return text +
           " That is more than they explain: look for backlash, air or moisture in the melt, or "
           "a soft part that is not in the list." +
           unsure;
  if (finding.reading == melt::Reading::less)
    return text +
           " That is less than they should store: a part is stiffer than given, or the "
           "melt thinner." +
           unsure;
  if (finding.reading == melt::Reading::cannot_tell)
    return text +
           fmt::format(
               " Whether they explain what was measured cannot be told: up to {:.0f} % of it "
               "could be missing in the list, or nothing. Measure again what most of the ± "
               "comes from.",
               100 * std::min(1.0,
                              std::max(0.0, (d.value + 2 * d.sd) / finding.measured_mm3.value))) +
           unsure;
  return text + " Within that range and twice the ±, the parts explain what was measured." + unsure;
}

std::string to_text(CausesPage const& page) {
  std::string out = fmt::format(
      "{}\nWhere the lag comes from, at {:g} mm³/s\n\n", page.title, page.at_flow_mm3_s);
  append_parts(out, page);
  append_measured(out, page);
  append_changes(out, page);
  if (std::vector<std::string> const small = small_changes(page); !small.empty())
    out += list_item(fmt::format("{}.", fmt::join(small, "; ")));
  if (page.residence) out += "\n" + to_text(*page.residence);
  if (page.barrier) out += "\n" + to_text(*page.barrier);
  if (!page.barrier_lacks.empty())
    out += "\n" + list_item(fmt::format("The heat barrier cannot be computed without {}.",
                                        fmt::join(page.barrier_lacks, ", ")));
  if (!page.notices.empty()) out += "\nNoted:\n" + to_text(page.notices);
  return out;
}

}  // namespace meltlag::report
