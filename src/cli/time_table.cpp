// SPDX-License-Identifier: MIT
#include "time_table.hpp"

#include <array>
#include <future>
#include <map>
#include <vector>

#include "emitting.hpp"
#include "meltlag/adapt/pace.hpp"

namespace meltlag::cli {
namespace {

constexpr std::array<double, 6> grants{0, 0.05, 0.10, 0.15, 0.25, 0.40};
constexpr double closeness = 0.9;

adapt::Judgement judged(std::string const& file,
                        adapt::AdaptOptions options,
                        adapt::FigureOptions const& figures,
                        double price) {
  options.price_mm3_per_s = price;
  adapt::OutputFile spool("-");  // a temporary file that is never sent on
  Notices unused;
  Emitted const result = emit_with_care(file, options, figures, spool, unused, {});
  refuse_violations(file, result.judgement);
  return result.judgement;
}

}  // namespace

report::TradeTable time_table(std::string const& file,
                              adapt::AdaptOptions const& options,
                              adapt::FigureOptions const& figures) {
  adapt::TradeCurve curve(file, options);
  for (double const grant : grants) curve.within(grant, closeness);
  std::map<double, adapt::Judgement> by_price;
  for (double const grant : grants) by_price[curve.best_within(grant).price_mm3_per_s] = {};
  adapt::FigureOptions granted = figures;
  granted.extra_time = grants.back();
  granted.speeds = adapt::Speeds::lowered;
  for (auto at = by_price.begin(); at != by_price.end();) {
    auto const first = at++;
    std::future<adapt::Judgement> second;
    if (at != by_price.end()) {
      second = std::async(std::launch::async,
                          [&, price = at->first] { return judged(file, options, granted, price); });
    }
    first->second = judged(file, options, granted, first->first);
    if (second.valid()) (at++)->second = second.get();
  }
  report::TradeTable table;
  for (double const grant : grants) {
    adapt::TradePoint const& point = curve.best_within(grant);
    adapt::Judgement const& judgement = by_price.at(point.price_mm3_per_s);
    report::TradeRow row{grant,
                         curve.extra_share(point),
                         point.info.path_s - curve.unpaced().info.path_s,
                         judgement.after};
    if (table.rows.empty()) {
      table.as_sliced = judgement.before;
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
  report::write_page(
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
