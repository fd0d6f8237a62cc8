// SPDX-License-Identifier: MIT
#include "meltlag/adapt/time_table.hpp"

#include <array>
#include <functional>
#include <map>
#include <mutex>

#include "meltlag/adapt/adapt_file.hpp"
#include "meltlag/base/progress.hpp"

namespace meltlag::adapt {
namespace {

constexpr std::array<double, 6> grants{0, 0.05, 0.10, 0.15, 0.25, 0.40};
constexpr double closeness = 0.9;

// The passes of the search, each emitted and judged at once.
class JudgedPasses {
 public:
  JudgedPasses(std::string file, AdaptOptions const& options)
      : file_(std::move(file)),
        options_{.adapt = options, .time = {.extra_share = most_granted, .target = {}}} {}

  AdaptInfo operator()(double price) {
    AdaptFileOptions options = options_;
    options.price_mm3_per_s = price;
    OutputFile spool("-");  // a temporary file that is never sent on
    Notices unused;
    AdaptedFile const result = adapt_file(file_, options, spool, unused);
    std::lock_guard const lock(mutex_);
    by_price_[price] = result.judgement;
    return result.info;
  }

  [[nodiscard]] judge::Judgement const& at(double price) const { return by_price_.at(price); }

 private:
  static constexpr double most_granted = 10;  // a pass of the search may overshoot

  std::string file_;
  AdaptFileOptions options_;
  std::mutex mutex_;
  std::map<double, judge::Judgement> by_price_;
};

}  // namespace

TradeTable time_table(std::string const& path, AdaptOptions const& options) {
  Task const task("time table");
  JudgedPasses passes(path, options);
  TradeCurve curve(path, options, std::ref(passes));
  curve.spend({grants.begin(), grants.end()}, closeness);
  TradeTable table;
  for (double const grant : grants) {
    // Nothing granted is what adapt_file() gives without being asked for time.
    TradePoint const& point = grant > 0 ? curve.best_within(grant) : curve.unpaced();
    judge::Judgement const& judgement = passes.at(point.price_mm3_per_s);
    TradeRow row{grant, curve.extra_share(point), curve.added_s(point), judgement.after};
    if (table.rows.empty()) {
      table.as_sliced = judgement.before;
      table.flow_set_right = judgement.flow_set_right;
    } else if (table.rows.back().figure.misplaced_mm3 < row.figure.misplaced_mm3) {
      row = table.rows.back();
      row.granted = grant;
    }
    table.rows.push_back(row);
  }
  return table;
}

}  // namespace meltlag::adapt
