// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "meltlag/adapt/adapt.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/report/trade.hpp"
#include "report_file.hpp"

namespace meltlag::cli {

// What 0, 5, 10, 15, 25 and 40 % more print time than as sliced buy, each judged from emitted text
// in a temporary file. Every row is at least as good as the one before.
[[nodiscard]] report::TradeTable time_table(std::string const& file,
                                            adapt::AdaptOptions const& options,
                                            judge::JudgeOptions const& figures);

// The page of it. `name`: of the file, as the user gave it.
void write_report(ReportFile& file,
                  std::string const& name,
                  profile::Profile const& profile,
                  report::TradeTable const& table);

}  // namespace meltlag::cli
