// SPDX-License-Identifier: MIT
// Small files and options for tests that judge.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include "meltlag/judge/judge.hpp"
#include "support/text_file.hpp"

namespace meltlag::testing {

// A file of its own in the temporary folder, gone at the end.
class TemporaryFile {
 public:
  explicit TemporaryFile(std::string_view text) {
    static int count = 0;
    path_ = std::filesystem::temp_directory_path() /
            ("meltlag-figure-" + std::to_string(reinterpret_cast<std::uintptr_t>(this)) + "-" +
             std::to_string(++count) + ".gcode");
    std::ofstream(path_, std::ios::binary) << text;
  }
  ~TemporaryFile() { std::filesystem::remove(path_); }
  TemporaryFile(TemporaryFile const&) = delete;
  TemporaryFile& operator=(TemporaryFile const&) = delete;
  [[nodiscard]] std::string path() const { return path_.string(); }

 private:
  std::filesystem::path path_;
};

// The slow reference's machine: its defaults are the same.
inline judge::JudgeOptions bench_options() {
  return {.plant = {.law = {.run_on_mm3 = 1.5,
                            .at_flow_mm3_s = 5,
                            .flow_index = 1,
                            .at_c = {},
                            .activation_kj_mol = {}},
                    .feed = {.slicer_diameter_mm = 1.75},
                    .supply = {.max_flow_mm3_s = 15}},
          .limits = {.acceleration_mm_s2 = 800,
                     .travel_acceleration_mm_s2 = 800,
                     .corner_jump_mm_s = {10, 10, 0.4, 5},
                     .max_speed_mm_s = {300, 300, 20, 60},
                     .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}}};
}

inline judge::Judgement judge_texts(std::string_view original,
                                    std::string_view emitted,
                                    judge::JudgeOptions const& options = bench_options(),
                                    judge::RowSink* rows = nullptr) {
  TemporaryFile const a(original), b(emitted);
  Notices notices;
  return judge::judge_files(a.path(), b.path(), options, notices, rows);
}

inline judge::PrintMetrics predict_text(std::string_view text,
                                        judge::JudgeOptions const& options = bench_options(),
                                        judge::RowSink* rows = nullptr) {
  TemporaryFile const file(text);
  Notices notices;
  return judge::predict(file.path(), options, notices, rows).before;
}

}  // namespace meltlag::testing
