// SPDX-License-Identifier: MIT
#include "window.hpp"

#include <algorithm>
#include <cmath>

namespace meltlag::adapt {
namespace {

// Neighbouring cuts of one move whose rates differ by less than this share of the move's own E per
// mm are emitted as one.
constexpr double merge_share = 0.01;

}  // namespace

WindowScheduler::WindowScheduler(CutterOptions options,
                                 melt::PlantParameters plant,
                                 double most_run_on_mm3)
    : cutter_(options, plant), most_run_on_mm3_(most_run_on_mm3) {}

// Before repair_jumps narrows the bounds.
void WindowScheduler::count_limits(std::size_t cuts) {
  constexpr double close = 0.98;
  for (std::size_t i = 0; i < cuts; ++i) {
    schedule::Cut const& cut = problem_.cuts[i];
    if (cut.fixed) continue;
    double duration = 0;
    for (std::uint32_t n = 0; n < cut.nodes; ++n)
      duration += problem_.nodes[cut.first_node + n].duration_s;
    limit_times_.scheduled_s += duration;
    double const before = i == 0 ? rates_[0] : rates_[i - 1];
    double const jump =
        i == 0 ? std::numeric_limits<double>::infinity() : problem_.cuts[i - 1].jump_to_next;
    if (rates_[i] > 0 && rates_[i] >= close * cut.rate_high) {
      limit_times_.flow_forward_s += duration;
    } else if (rates_[i] < 0 && rates_[i] <= close * cut.rate_low) {
      limit_times_.reverse_s += duration;
    } else if (std::abs(rates_[i] - before) >= close * jump) {
      limit_times_.jump_s += duration;
    }
  }
}

// The solver meets the limits to its tolerance; this makes them hold exactly. Going backward each
// cut learns what the ones after it can follow, going forward the rates are brought there.
void WindowScheduler::repair_jumps(Handover const& state) {
  double low_after = -std::numeric_limits<double>::infinity();
  double high_after = std::numeric_limits<double>::infinity();
  for (std::size_t i = rates_.size(); i-- > 0;) {
    schedule::Cut& cut = problem_.cuts[i];
    if (cut.fixed) {
      low_after = high_after = rates_[i];
      continue;
    }
    double const low = std::max(cut.rate_low, low_after - cut.jump_to_next);
    double const high = std::min(cut.rate_high, high_after + cut.jump_to_next);
    if (low <= high) {
      cut.rate_low = low;
      cut.rate_high = high;
    }
    low_after = cut.rate_low;
    high_after = cut.rate_high;
  }
  double before = state.rate.value_or(0);
  double jump = state.rate ? state.jump : std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < rates_.size(); ++i) {
    schedule::Cut const& cut = problem_.cuts[i];
    if (!cut.fixed) {
      rates_[i] = std::clamp(rates_[i], cut.rate_low, cut.rate_high);
      rates_[i] = std::clamp(rates_[i], before - jump, before + jump);
    }
    before = rates_[i];
    jump = cut.jump_to_next;
  }
}

void WindowScheduler::merge(std::span<Record* const> records, std::size_t kept) {
  for (std::size_t m = 0; m < kept; ++m) {
    Record& record = *records[m];
    record.scheduled = true;
    record.pieces.clear();
    if (record.fate != Fate::free_rate || record.move.length_mm <= 0 || !record.free_e) continue;
    cutter_.cut_ends(record, ends_);
    // A line may ask for far more than the screw can do: then that is the measure.
    double usual = std::abs(record.move.e_mm) / record.move.length_mm;
    for (std::size_t k = 0; k < ends_.size(); ++k)
      usual = std::min(usual, problem_.cuts[ranges_[m].first + k].rate_high);
    double const tolerance = merge_share * std::max(usual, 1e-3);
    double from = 0, low = 0, high = 0, turned = 0;
    std::size_t open = ranges_[m].first;  // first cut of the piece being built
    for (std::size_t k = 0; k < ends_.size(); ++k) {
      std::size_t const cut = ranges_[m].first + k;
      double const rate = rates_[cut];
      if (cut != open && std::max(high, rate) - std::min(low, rate) > tolerance) {
        double const end = ends_[k - 1];
        record.pieces.push_back({end, turned / (end - from)});
        std::fill(rates_.begin() + static_cast<std::ptrdiff_t>(open),
                  rates_.begin() + static_cast<std::ptrdiff_t>(cut),
                  record.pieces.back().rate);
        from = end;
        open = cut;
        turned = 0;
      }
      if (cut == open) low = high = rate;
      low = std::min(low, rate);
      high = std::max(high, rate);
      turned += rate * (ends_[k] - (k == 0 ? 0 : ends_[k - 1]));
    }
    record.pieces.push_back({record.move.length_mm, turned / (record.move.length_mm - from)});
    std::size_t const end = ranges_[m].first + ends_.size();
    std::fill(rates_.begin() + static_cast<std::ptrdiff_t>(open),
              rates_.begin() + static_cast<std::ptrdiff_t>(end),
              record.pieces.back().rate);
  }
}

void WindowScheduler::schedule(std::span<Record* const> records,
                               std::size_t kept,
                               Handover& state) {
  cutter_.build(records, problem_, ranges_);
  problem_.start_run_on_mm3 = state.run_on_mm3;
  problem_.start_play_mm3 = state.play_mm3;
  problem_.rate_before = state.rate;
  problem_.jump_before = state.jump;
  problem_.most_run_on_mm3 = most_run_on_mm3_;
  rates_.clear();
  auto const info = optimiser_.optimise(problem_, {}, rates_);
  rounds_ += info.rounds;
  steps_ += info.steps;
  count_limits(kept < ranges_.size() ? ranges_[kept].first : problem_.cuts.size());
  repair_jumps(state);
  merge(records, kept);
  schedule::simulate(problem_, rates_, outcome_);
  CutRange const last = ranges_[kept - 1];
  std::size_t const cuts = last.first + last.count;
  state.run_on_mm3 = outcome_.run_on_mm3[cuts];
  if (cuts > 0) {
    state.play_mm3 = outcome_.play_mm3[cuts - 1];
    state.rate = rates_[cuts - 1];
    state.jump = problem_.cuts[cuts - 1].jump_to_next;
  }
}

}  // namespace meltlag::adapt
