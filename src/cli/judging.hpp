// SPDX-License-Identifier: MIT
// What the commands that judge files share.
#pragma once

#include <fstream>
#include <initializer_list>
#include <optional>
#include <string>

#include "meltlag/base/output_file.hpp"
#include "meltlag/judge/judge.hpp"
#include "meltlag/profile/profile.hpp"
#include "meltlag/report/metrics.hpp"

namespace meltlag::cli {

[[nodiscard]] judge::JudgeOptions judge_options(profile::Profile const& profile);
// Without a profile: limits of a common small printer, so that times mean something; no lag.
[[nodiscard]] judge::JudgeOptions common_options();

// All that is known of a file that was judged: as sliced, with its flow set right, as emitted where
// the emitted head keeps to the path.
[[nodiscard]] report::MetricsTable metrics_table(judge::Judgement const& judgement,
                                                 profile::Profile const& profile);
// The file itself says that it was adapted: its flow is set right already.
[[nodiscard]] bool says_adapted(std::string const& path);

// A file that is written row by row and appears whole at commit(). Throws Error where that fails,
// and where it is one of the files that are read.
class CsvFile {
 public:
  CsvFile(std::string const& path, std::initializer_list<std::string> inputs);
  [[nodiscard]] std::ostream& stream() { return stream_; }
  // As those of OutputFile.
  void finish();
  void commit();

 private:
  std::string path_;
  OutputFile file_;
  std::ofstream stream_;
};

}  // namespace meltlag::cli
