// SPDX-License-Identifier: MIT
#include <algorithm>
#include <utility>

#include "meltlag/adapt/pace.hpp"
#include "meltlag/base/progress.hpp"

namespace meltlag::adapt {
namespace {

constexpr double most_share = 10;

}  // namespace

std::optional<PaceChoice> choose_pace(std::string const& path,
                                      AdaptOptions const& options,
                                      TimeGrant const& grant,
                                      TradeCurve::Pass pass) {
  if (!grant.extra_share && !grant.target) return {};
  PaceChoice choice{.target = grant.target};
  choice.allowed_share = std::min(most_share, grant.extra_share.value_or(most_share));
  if (choice.allowed_share == 0) return {};
  Task const task("finding where slower pays");
  TradeCurve curve(path, options, std::move(pass));
  TradePoint point =
      choice.target ? curve.reaching(*choice.target) : curve.within(choice.allowed_share);
  if (curve.extra_share(point) > choice.allowed_share) point = curve.within(choice.allowed_share);
  choice.price_mm3_per_s = point.price_mm3_per_s;
  choice.extra_share = curve.extra_share(point);
  choice.added_s = curve.added_s(point);
  choice.misplaced_share = point.misplaced_share();
  choice.unpaced_share = curve.unpaced().misplaced_share();
  choice.limits = point.info.limits;
  if (choice.target) choice.allowed_share = std::max(0.0, choice.extra_share) * 1.01 + 1e-3;
  return choice;
}

}  // namespace meltlag::adapt
