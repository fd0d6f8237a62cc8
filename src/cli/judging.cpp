// SPDX-License-Identifier: MIT
#include "judging.hpp"

#include <cerrno>
#include <filesystem>
#include <system_error>

#include "meltlag/base/error.hpp"
#include "meltlag/base/system.hpp"
#include "meltlag/gcode/blocks.hpp"
#include "meltlag/gcode/interpreter.hpp"

namespace meltlag::cli {
namespace {

[[noreturn]] void fail_to_write(std::string const& path) {
  throw Error("cannot write it: " + std::generic_category().message(errno),
              {.file = path},
              "Choose a place that can be written and has room.");
}

std::string const& refuse_inputs(std::string const& path,
                                 std::initializer_list<std::string> inputs) {
  for (std::string const& input : inputs) {
    if (!same_file(path, input)) continue;
    throw Error("is read and would be overwritten by the table",
                {.file = path},
                "Name another file for the table.");
  }
  return path;
}

}  // namespace

judge::JudgeOptions judge_options(profile::Profile const& profile) {
  return {.plant = profile::plant(profile),
          .limits = profile.limits,
          .g91_covers_e = profile.machine.g91_covers_e,
          .cold_below_c = profile.bounds.cold_below_c,
          .prove = judge::Prove::figures_only};
}

judge::JudgeOptions common_options() {
  constexpr double acceleration_mm_s2 = 800;
  return {.plant = {.law = {.run_on_mm3 = 1e-6,
                            .at_flow_mm3_s = 1,
                            .flow_index = 1,
                            .at_c = {},
                            .activation_kj_mol = {}},
                    .feed = {.slicer_diameter_mm = 1.75}},
          .limits = {.acceleration_mm_s2 = acceleration_mm_s2,
                     .travel_acceleration_mm_s2 = acceleration_mm_s2,
                     .corner_jump_mm_s = {10, 10, 0.4, 5},
                     .max_speed_mm_s = {300, 300, 20, 60},
                     .max_acceleration_mm_s2 = {9000, 9000, 500, 5000}},
          .prove = judge::Prove::figures_only};
}

report::MetricsTable metrics_table(judge::Judgement const& judgement,
                                   profile::Profile const& profile) {
  report::MetricsTable table{.as_sliced = judgement.before,
                             .flow_set_right = judgement.flow_set_right,
                             .parts = profile::parts_lag(profile),
                             .delivered_factor = profile.feed.delivered_factor,
                             .max_flow_mm3_s = profile.bounds.max_flow_mm3_s};
  if (!judgement.parting) table.adapted = judgement.after;
  return table;
}

bool says_adapted(std::string const& path) {
  constexpr int first_lines = 5;  // a first '%' comes before it, what somebody added may too
  gcode::LineSource source(path);
  gcode::Block block;
  for (int i = 0; i < first_lines && gcode::read_next_block(source, block); ++i) {
    if (block.comment.starts_with(gcode::Interpreter::marker_text)) return true;
  }
  return false;
}

CsvFile::CsvFile(std::string const& path, std::initializer_list<std::string> inputs)
    : path_(refuse_inputs(path, inputs)),
      file_(path_),
      stream_(system::path_of(file_.temporary_path()), std::ios::binary) {
  if (!stream_) fail_to_write(path_);
}

void CsvFile::finish() {
  if (!stream_.is_open()) return;
  stream_.close();
  if (!stream_) fail_to_write(path_);
  file_.finish();
}

void CsvFile::commit() {
  finish();
  file_.commit();
}

}  // namespace meltlag::cli
