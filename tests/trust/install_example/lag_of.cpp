// SPDX-License-Identifier: MIT
// lag_of PROFILE FILE: the machine's lag, and how much plastic the file as sliced would misplace.
#include <cstdio>
#include <meltlag/base/error.hpp>
#include <meltlag/judge/judge.hpp>
#include <meltlag/melt/lag_law.hpp>
#include <meltlag/profile/profile.hpp>

int main(int count, char** words) try {
  if (count != 3) return 2;
  meltlag::profile::Profile const profile = meltlag::profile::load(words[1]);
  meltlag::judge::JudgeOptions options{.plant = meltlag::profile::plant(profile),
                                       .limits = profile.limits};
  meltlag::Notices notices;
  auto const figure = meltlag::judge::predict(words[2], options, notices, nullptr).before;
  auto const& law = options.plant.law;
  std::printf("lag %.3f s, misplaced %.1f %%\n",
              meltlag::melt::lag_s(law, law.at_flow_mm3_s),
              100 * figure.misplaced_share());
  return 0;
} catch (meltlag::Error const& error) {
  std::fprintf(stderr, "%s\n", error.what());
  return 1;
}
