// SPDX-License-Identifier: MIT
#include "time_table.hpp"

#include <array>
#include <functional>
#include <map>
#include <mutex>
#include <vector>

#include "emitting.hpp"
#include "meltlag/adapt/pace.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/page/trade_page.hpp"

namespace meltlag::cli {
namespace {

constexpr std::array<double, 6> grants{0, 0.05, 0.10, 0.15, 0.25, 0.40};
constexpr double closeness = 0.9;

// The passes of the search, each emitted and judged at once.
class JudgedPasses {
 public:
  JudgedPasses(std::string file, adapt::AdaptOptions options, judge::JudgeOptions figures)
      : file_(std::move(file)), options_(std::move(options)), figures_(figures) {
    figures_.extra_time = most_granted;
    figures_.speeds = judge::Speeds::lowered;
  }

  adapt::AdaptInfo operator()(double price) {
    adapt::AdaptOptions options = options_;
    options.price_mm3_per_s = price;
    adapt::OutputFile spool("-");  // a temporary file that is never sent on
    Notices unused;
    Emitted const result = emit(file_, options, figures_, spool, unused, KeepPath::no);
    std::lock_guard const lock(mutex_);
    by_price_[price] = result.judgement;
    return result.info;
  }

  [[nodiscard]] judge::Judgement const& at(double price) const { return by_price_.at(price); }

 private:
  static constexpr double most_granted = 10;  // a pass of the search may overshoot

  std::string file_;
  adapt::AdaptOptions options_;
  judge::JudgeOptions figures_;
  std::mutex mutex_;
  std::map<double, judge::Judgement> by_price_;
};

}  // namespace

report::TradeTable time_table(std::string const& file,
                              adapt::AdaptOptions const& options,
                              judge::JudgeOptions const& figures) {
  Task const task("time table");
  JudgedPasses passes(file, options, figures);
  adapt::TradeCurve curve(file, options, std::ref(passes));
  curve.spend({grants.begin(), grants.end()}, closeness);
  report::TradeTable table;
  for (double const grant : grants) {
    // Nothing granted is what `adapt` gives without being asked for time.
    adapt::TradePoint const& point = grant > 0 ? curve.best_within(grant) : curve.unpaced();
    judge::Judgement const& judgement = passes.at(point.price_mm3_per_s);
    report::TradeRow row{grant, curve.extra_share(point), curve.added_s(point), judgement.after};
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

void write_report(ReportFile& file,
                  std::string const& name,
                  profile::Profile const& profile,
                  report::TradeTable const& table) {
  page::write_page(
      file.out(),
      {.file = name,
       .version = MELTLAG_VERSION,
       .table = table,
       .cautions = {"Each row was adapted anew with that much more print time, and judged from the "
                    "emitted text by the profile's lag. A slower print stays hot for longer: look "
                    "at what the material bears."},
       .notices = {},
       .profile_title = profile.title,
       .profile_text = profile_text(profile.path)});
  file.commit();
}

}  // namespace meltlag::cli
