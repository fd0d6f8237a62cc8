// SPDX-License-Identifier: MIT
// bench_adapt MELTLAG MAKE_SAMPLES [MEGABYTES…] [--runs N] [--infill]
// How long adapting takes, as a ratio to a floor: a program that does nothing but read the same
// file, convert each number to binary and back to text, and write it. Sizes default to 1, 10, 100.
#include <sys/wait.h>
#include <unistd.h>

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include "floor.hpp"
#include "judge/judged_texts.hpp"
#include "meltlag/judge/judge.hpp"
#include "timing.hpp"

namespace {

namespace fs = std::filesystem;
using namespace meltlag;

struct Request {
  std::string meltlag, make_samples;
  std::vector<std::string> megabytes;
  int runs = 5;
  bool infill = false;  // few rings and much infill at twice their flow
};

// A scratch folder of its own, gone at the end.
struct Scratch {
  fs::path path;
  Scratch() : path(fs::temp_directory_path() / ("meltlag-bench-" + std::to_string(::getpid()))) {
    fs::create_directory(path);
  }
  ~Scratch() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  Scratch(Scratch const&) = delete;
  Scratch& operator=(Scratch const&) = delete;
  [[nodiscard]] std::string at(std::string const& name) const { return (path / name).string(); }
};

constexpr std::string_view profile = R"(title = "Bench auger of the measurements"
[feed]
slicer_diameter_mm = 1.75
[lag]
run_on_mm3 = 1.5
at_flow_mm3_s = 5.0
flow_index = 1.0
[machine]
acceleration_mm_s2 = 800
corner_rule = "jump"
corner_jump_mm_s = { x = 10, y = 10, z = 0.4, e = 5 }
max_speed_mm_s = { x = 300, y = 300, z = 20, e = 60 }
max_acceleration_mm_s2 = { x = 9000, y = 9000, z = 500, e = 5000 }
[limits]
max_flow_mm3_s = 15
)";

// The same machine and lag as in the profile.
judge::JudgeOptions judge_options() {
  judge::JudgeOptions options = testing::bench_options();
  options.prove = judge::Prove::figures_only;
  return options;
}

Request read_request(int count, char** words) {
  Request request;
  std::vector<std::string> plain;
  for (int i = 1; i < count; ++i) {
    if (std::string_view(words[i]) == "--runs" && i + 1 < count) {
      request.runs = std::atoi(words[++i]);
    } else if (std::string_view(words[i]) == "--infill") {
      request.infill = true;
    } else {
      plain.emplace_back(words[i]);
    }
  }
  if (plain.size() < 2 || request.runs < 1)
    throw std::runtime_error(
        "usage: bench_adapt MELTLAG MAKE_SAMPLES [MEGABYTES...] [--runs N] [--infill]");
  request.meltlag = plain[0];
  request.make_samples = plain[1];
  request.megabytes.assign(plain.begin() + 2, plain.end());
  if (request.megabytes.empty()) request.megabytes = {"1", "10", "100"};
  return request;
}

void measure(Request const& request, std::string const& megabytes, Scratch const& scratch) {
  std::string const in = scratch.at("in.gcode"), out = scratch.at("out.gcode");
  std::string const copy = scratch.at("copy.gcode"), auger = scratch.at("auger.toml");
  bench::run_program(
      {request.make_samples, request.infill ? "--long-infill" : "--long", megabytes, in});
  bench::Costs const floor = bench::median_of(
      request.runs, [&] { return bench::run_here([&] { bench::floor(in, copy); }); });
  bench::Costs const whole = bench::median_of(request.runs, [&] {
    return bench::run_program(
        {request.meltlag, "adapt", in, "--profile", auger, "--output", out, "--force", "--quiet"});
  });
  Notices notices;
  judge::Judgement const judged = judge::judge_files(in, out, judge_options(), notices, nullptr);
  if (judged.parting) throw std::runtime_error("the paths part: " + judged.parting->text);
  double const before = judged.before.misplaced_share(), after = judged.after.misplaced_share();
  auto const moves = static_cast<double>(judged.before.moves);
  std::printf("%8s %9.0f %9.3f %9.3f %8.1f %9.2f %9.1f %9.2f %9.2f %8.3f %8.2f\n",
              megabytes.c_str(),
              moves,
              floor.wall_s,
              whole.wall_s,
              whole.wall_s / floor.wall_s,
              1e6 * whole.wall_s / moves,
              whole.peak_mib,
              100 * before,
              100 * after,
              before > 0 ? after / before : 0,
              static_cast<double>(judged.after.lines) / static_cast<double>(judged.before.lines));
  std::fflush(stdout);
}

}  // namespace

int main(int count, char** words) try {
  Request const request = read_request(count, words);
  Scratch const scratch;
  std::ofstream(scratch.at("auger.toml")) << profile;
  std::printf("medians of %d\n", request.runs);
  std::printf("%8s %9s %9s %9s %8s %9s %9s %9s %9s %8s %8s\n",
              "MB",
              "moves",
              "floor_s",
              "adapt_s",
              "ratio",
              "us/move",
              "peak_MiB",
              "before_%",
              "after_%",
              "share",
              "lines");
  for (std::string const& megabytes : request.megabytes) measure(request, megabytes, scratch);
  return 0;
} catch (std::exception const& error) {
  std::fprintf(stderr, "bench_adapt: %s\n", error.what());
  return 1;
}
