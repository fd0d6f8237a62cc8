// SPDX-License-Identifier: MIT
#include "conclusions.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::compare {
namespace {

constexpr double sure = 3;  // standard deviations
// χ² that chance exceeds as rarely as three deviations of a normal number, for two and three
// numbers.
constexpr double sure_chi2_of_two = 11.83, sure_chi2_of_three = 14.16;
constexpr double most_believed = 1.1;  // a factor of three: beyond, it is another print or machine
constexpr double much_run_on = 0.05, much_factor = 0.01, much_thin = 0.05;  // shares
constexpr double long_travel_lags = 3;  // after so many the nozzle is as empty as it gets
constexpr double uneven_chi2 = 2.5;     // per spare row
constexpr std::size_t few_rows = 5, few_in_stage = 3;

double share_of(double part, double whole) { return whole != 0 ? part / std::abs(whole) : 0; }

KindSummary summary_of(MeasuredKind kind, std::vector<ComparedRow const*> const& rows) {
  KindSummary out;
  out.kind = kind;
  std::vector<double> offs, without, tools;
  double expected = 0, profile = 0;
  for (ComparedRow const* row : rows) {
    offs.push_back(row->off());
    without.push_back(row->measured.value - row->without_lag);
    tools.push_back(row->tool_sd);
    expected += row->expected_sd() * row->expected_sd();
    profile += row->profile_sd;
    out.mean_predicted += row->predicted;
    out.as_expected += row->as_expected() ? 1 : 0;
  }
  auto const n = static_cast<double>(rows.size());
  out.mean_predicted /= n;
  out.offs = offs_of(offs);
  out.expected_rms = std::sqrt(expected / n);
  // What the profile is wrong by moves all rows together, about as much as their mean.
  out.bias_allowed = std::hypot(out.offs.bias_se, profile / n);
  out.share_explained = share_explained(offs, without);
  out.most_explainable = share_explained(tools, without);
  return out;
}

void add_kinds(PrintComparison& out) {
  for (int k = 0; k < kinds; ++k) {
    std::vector<ComparedRow const*> rows;
    for (ComparedRow const& row : out.rows)
      if (row.measured.kind == static_cast<MeasuredKind>(k)) rows.push_back(&row);
    if (!rows.empty()) out.kinds.push_back(summary_of(static_cast<MeasuredKind>(k), rows));
  }
}

bool is_long_travel(ComparedRow const& row, CompareOptions const& options) {
  return row.stage == Stage::building_up &&
         row.travel_s >
             long_travel_lags * melt::lag_s(options.plant.law, options.plant.law.at_flow_mm3_s);
}

// Mean of off/predicted over rows in one stage; each row stands for its own predicted amount.
StageOffs stage_offs(std::vector<ComparedRow> const& rows,
                     std::span<double const> offs,
                     std::vector<std::size_t> const& members) {
  StageOffs out{.rows = members.size()};
  std::vector<double> shares;
  for (std::size_t const i : members)
    shares.push_back(share_of(offs[i], std::max(std::abs(rows[i].predicted), rows[i].tool_sd)));
  Offs const spread = offs_of(shares);
  out.off_share = spread.bias;
  out.off_share_se = spread.bias_se;
  return out;
}

// In the order building up after short travels, after long ones, steady, running on.
std::vector<StageOffs> all_stages(CompareOptions const& options,
                                  std::span<double const> offs,
                                  PrintComparison const& out) {
  std::array<std::vector<std::size_t>, stages + 1> members;
  for (std::size_t i = 0; i < out.rows.size(); ++i) {
    bool const far = is_long_travel(out.rows[i], options);
    auto const stage = static_cast<std::size_t>(out.rows[i].stage);
    members[stage == 0 ? (far ? 1 : 0) : stage + 1].push_back(i);
  }
  std::vector<StageOffs> found;
  for (std::size_t k = 0; k < members.size(); ++k) {
    StageOffs part = stage_offs(out.rows, offs, members[k]);
    part.stage = k < 2 ? Stage::building_up : static_cast<Stage>(k - 1);
    part.long_travel = k == 1;
    found.push_back(part);
  }
  return found;
}

// Stretches of one kind, in the order of the print.
class StretchFinder {
 public:
  StretchFinder(Spots const& spots, std::vector<RowStretch>& all) : spots_(spots), all_(all) {}

  void add(ComparedRow const& row) {
    double const off = row.off();
    if (!(stretch_.rows > 0 && off * stretch_.mean_off > 0)) {
      close();
      stretch_ = {};
      stretch_.kind = row.measured.kind;
      stretch_.first_line = row.line;
      stretch_.first_s = row.print_s;
      stretch_.first_row = row_;
      predicted_ = weight_ = most_ = 0;
    }
    stretch_.last_line = std::max(row.line, row.measured.to_line);
    stretch_.last_s = row.print_s;
    ++stretch_.rows;
    stretch_.mean_off += off;
    predicted_ += row.predicted;
    weight_ += std::abs(off) / row.expected_sd();
    if (std::abs(off) > most_ || stretch_.rows == 1) {
      most_ = std::abs(off);
      stretch_.line = row.line;
      stretch_.at_s = row.print_s;
      stretch_.at_mm = row.at_mm;
      stretch_.layer = spots_.layer_at(row.line);
    }
    ++row_;
  }
  void close() {
    if (stretch_.rows == 0) return;
    auto const n = static_cast<double>(stretch_.rows);
    stretch_.mean_off_share = share_of(stretch_.mean_off, predicted_);
    stretch_.mean_off /= n;
    stretch_.weight = weight_ / std::sqrt(n);
    all_.push_back(stretch_);
  }

 private:
  Spots const& spots_;
  std::vector<RowStretch>& all_;
  RowStretch stretch_;
  std::size_t row_ = 0;
  double predicted_ = 0, weight_ = 0, most_ = 0;
};

void add_worst(Spots const& spots, PrintComparison& out) {
  std::vector<RowStretch> all;
  for (KindSummary const& k : out.kinds) {
    StretchFinder finder(spots, all);
    for (std::size_t const i : in_print_order(out, k.kind)) finder.add(out.rows[i]);
    finder.close();
  }
  std::ranges::stable_sort(all, std::greater<>{}, &RowStretch::weight);
  if (all.size() > most_stretches) all.resize(most_stretches);
  out.worst = std::move(all);
}

// Starts after long travels thinner than everything else, whatever the run-on.
bool thin_after_travel(std::vector<StageOffs> const& after_refit) {
  StageOffs const& far = after_refit[1];
  if (far.rows < few_in_stage) return false;
  double const by = far.off_share;
  if (!(by < -much_thin && by < -sure * far.off_share_se)) return false;
  return std::ranges::all_of(after_refit, [&](StageOffs const& part) {
    return part.long_travel || part.rows < few_in_stage || part.off_share > by / 2;
  });
}

// How far one number of the profile is off, as a logarithm.
struct OffBy {
  Finding larger, smaller;
  double by = 0, sd = 0, profile_sd = 0, much = 0;

  [[nodiscard]] double sureness() const { return sd > 0 ? std::abs(by) / sd : 0; }
  [[nodiscard]] bool matters() const {
    return sd > 0 && std::abs(by) > much && std::abs(by) > 2 * profile_sd &&
           std::abs(by) < most_believed;
  }
  [[nodiscard]] bool is_sure() const {
    return matters() && std::abs(by) > sure * std::hypot(sd, profile_sd);
  }
  [[nodiscard]] Finding finding() const { return by > 0 ? larger : smaller; }
};

std::array<OffBy, 2> numbers_off(CompareOptions const& options, Refit const& refit) {
  melt::PlantParameters const& plant = options.plant;
  return {OffBy{.larger = Finding::run_on_larger,
                .smaller = Finding::run_on_smaller,
                .by = std::log(refit.run_on),
                .sd = refit.run_on_sd / refit.run_on,
                .profile_sd = share_of(options.sd.run_on_mm3, plant.law.run_on_mm3),
                .much = much_run_on},
          OffBy{.larger = Finding::factor_larger,
                .smaller = Finding::factor_smaller,
                .by = std::log(refit.delivered_factor),
                .sd = refit.delivered_factor_sd / refit.delivered_factor,
                .profile_sd = share_of(options.sd.delivered_factor, plant.feed.delivered_factor),
                .much = much_factor}};
}

void add_findings(CompareOptions const& options,
                  std::vector<StageOffs> const& after_refit,
                  std::span<double const> left,
                  PrintComparison& out) {
  Refit const& refit = out.refit;
  if (out.rows.size() < few_rows) out.findings.push_back(Finding::too_few);
  if (thin_after_travel(after_refit)) out.findings.push_back(Finding::thin_after_travel);
  auto const numbers = numbers_off(options, refit);
  double const spare = static_cast<double>(out.rows.size()) - 2;
  double const per_row = spare > 0 ? refit.chi2_after / spare : 0;
  bool named = false;
  for (OffBy const& number : numbers) {
    if (!number.is_sure()) continue;
    out.findings.push_back(number.finding());
    named = true;
  }
  // Together they may be off with certainty while neither is alone: then the more likely one is
  // named.
  double const better = (refit.chi2_before - refit.chi2_after) / std::max(1.0, per_row);
  if (!named && better > (out.clock ? sure_chi2_of_three : sure_chi2_of_two)) {
    auto const likelier = std::ranges::max_element(
        numbers, {}, [](OffBy const& number) { return number.matters() ? number.sureness() : 0; });
    if (likelier->matters()) out.findings.push_back(likelier->finding());
  }
  double strays = 0;
  for (std::size_t i = 0; i < left.size(); ++i)
    strays += std::pow(left[i] / out.rows[i].tool_sd, 2) / std::max(1.0, spare);
  if (spare > 2 && strays > uneven_chi2) out.findings.push_back(Finding::uneven);
  if (out.findings.empty()) out.findings.push_back(Finding::as_expected);
}

}  // namespace

std::vector<std::size_t> in_print_order(PrintComparison const& comparison, MeasuredKind kind) {
  std::vector<ComparedRow> const& rows = comparison.rows;
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (rows[i].measured.kind == kind) order.push_back(i);
  std::ranges::stable_sort(order, {}, [&](std::size_t i) { return rows[i].print_s; });
  return order;
}

void conclude(CompareOptions const& options,
              Spots const& spots,
              std::span<double const> left,
              PrintComparison& out) {
  add_kinds(out);
  std::vector<double> offs;
  for (ComparedRow const& row : out.rows) offs.push_back(row.off());
  out.stages = all_stages(options, offs, out);
  std::vector<StageOffs> const after_refit = all_stages(options, left, out);
  add_worst(spots, out);
  add_findings(options, after_refit, left, out);
}

}  // namespace meltlag::compare
