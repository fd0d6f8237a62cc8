// SPDX-License-Identifier: MIT
#include "pacing.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <charconv>
#include <cmath>

#include "meltlag/base/error.hpp"
#include "meltlag/report/table.hpp"

namespace meltlag::cli {
namespace {

constexpr double most_share = 10;

// Why less cannot be reached: what holds the screw most of the time.
std::string reason(adapt::PaceChoice const& choice) {
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

adapt::TimeGrant grant_of(PaceCommandOptions const& request) {
  adapt::TimeGrant grant;
  if (!request.extra_time.empty()) grant.extra_share = share_of(request.extra_time, "--extra-time");
  if (!request.target.empty()) grant.target = share_of(request.target, "--target");
  return grant;
}

void throw_out_of_reach(adapt::PaceChoice const& choice, std::string const& file) {
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

std::string to_text(adapt::PaceChoice const& choice) {
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
