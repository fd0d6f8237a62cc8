// SPDX-License-Identifier: MIT
#include "pacing.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <charconv>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/base/progress.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::cli {
namespace {

constexpr double most_share = 10;

// Why less cannot be reached: what holds the screw most of the time.
std::string reason(PaceChoice const& choice) {
  adapt::LimitTimes const& t = choice.limits;
  if (t.scheduled_s <= 0) return "no move of this file may be changed";
  double const most = std::max({t.flow_forward_s, t.reverse_s, t.jump_s});
  std::string const share = report::percent(most / t.scheduled_s);
  constexpr double seldom = 0.02;
  if (most < seldom * t.scheduled_s)
    return "what is left is in moves that stay as they are, and in beads shorter than a cut";
  if (most == t.flow_forward_s) return "the screw feeds all it can for " + share + " of the time";
  if (most == t.reverse_s) return "the screw turns back as fast as it can for " + share + " of it";
  return "E may not change faster: it is at its jump for " + share + " of the time";
}

[[noreturn]] void throw_out_of_reach(PaceChoice const& choice, std::string const& file) {
  constexpr double step = 1000;  // tenths of a percent, upward
  double const reached = std::ceil(step * choice.misplaced_share - 1e-9) / step;
  throw Error("misplaced plastic of " + report::percent(*choice.target) +
                  " cannot be reached: " + reason(choice) + ", and with " +
                  report::percent(std::max(0.0, choice.extra_share)) + " more time " +
                  report::percent(reached) + " is left",
              {.file = file},
              "Nothing was written. Ask for --target " + report::percent(reached) +
                  " or more; --time-table shows what print time buys.");
}

}  // namespace

double share_of(std::string const& text, std::string const& option) {
  std::string_view digits = text;
  if (digits.ends_with('%')) digits.remove_suffix(1);
  while (digits.ends_with(' ')) digits.remove_suffix(1);
  double percent = -1;
  auto const [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), percent);
  bool const whole = error == std::errc{} && end == digits.data() + digits.size();
  if (!whole || !(percent >= 0) || percent > 100 * most_share) {
    throw CLI::ValidationError(option, "needs a share in percent, such as 15%, not '" + text + "'");
  }
  return percent / 100;
}

std::optional<PaceChoice> choose_pace(PaceCommandOptions const& request,
                                      std::string const& file,
                                      adapt::AdaptOptions const& options) {
  if (request.extra_time.empty() && request.target.empty()) return {};
  PaceChoice choice;
  if (!request.target.empty()) choice.target = share_of(request.target, "--target");
  // A target alone may take what it takes.
  choice.allowed_share =
      request.extra_time.empty() ? most_share : share_of(request.extra_time, "--extra-time");
  if (choice.allowed_share == 0) return {};
  adapt::AdaptOptions believed = options;  // what the time is depends on that alone
  believed.spread = {};
  Task const task("finding where slower pays");
  adapt::TradeCurve curve(file, believed);
  adapt::TradePoint point =
      choice.target ? curve.reaching(*choice.target) : curve.within(choice.allowed_share);
  if (curve.extra_share(point) > choice.allowed_share) point = curve.within(choice.allowed_share);
  choice.price_mm3_per_s = point.price_mm3_per_s;
  choice.extra_share = curve.extra_share(point);
  choice.added_s = curve.added_s(point);
  choice.misplaced_share = point.misplaced_share();
  choice.unpaced_share = curve.unpaced().misplaced_share();
  choice.limits = point.info.limits;
  if (choice.target && choice.misplaced_share > *choice.target) throw_out_of_reach(choice, file);
  if (choice.target) choice.allowed_share = std::max(0.0, choice.extra_share) * 1.01 + 1e-3;
  return choice;
}

std::string to_text(PaceChoice const& choice) {
  std::string text;
  if (choice.price_mm3_per_s > 0) {
    bool const sooner = choice.added_s < 0;
    text += "Slower where it buys most: " + report::duration(std::abs(choice.added_s)) +
            (sooner ? " less" : " more") + " than as sliced (" +
            report::percent(std::abs(choice.extra_share)) + "),\nmisplaced plastic " +
            report::percent(choice.unpaced_share) + " → " +
            report::percent(choice.misplaced_share) + ".\n";
  } else {
    text += "No time is added.\n";
  }
  return text;
}

}  // namespace meltlag::cli
