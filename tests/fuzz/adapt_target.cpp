// SPDX-License-Identifier: MIT
// The whole road: adapt, read back, judge, prove. The first byte chooses the machine.
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>

#include "machine.hpp"
#include "meltlag/adapt/adapt.hpp"
#include "meltlag/adapt/figure.hpp"
#include "target.hpp"

namespace meltlag::fuzz {
namespace {

namespace fs = std::filesystem;

struct Files {
  fs::path folder = fs::temp_directory_path() / ("meltlag-fuzz-" + std::to_string(::getpid()));
  std::string original = (folder / "original.gcode").string();
  std::string emitted = (folder / "emitted.gcode").string();
  Files() { fs::create_directories(folder); }
  ~Files() { fs::remove_all(folder); }
  Files(Files const&) = delete;
  Files& operator=(Files const&) = delete;
};

melt::PlantParameters chosen(unsigned char byte) {
  auto out = plant(byte & 1 ? 5 : 1.5, byte & 2 ? 0.5 : 1);
  if (byte & 4) out.feed.delivered_factor = 0.9;
  if (byte & 8) out.feed.play_mm = 0.1;
  if (byte & 16) out.leak_per_s = 0.05;
  if (byte & 32) out.feed.reverse_factor = 0.7;
  return out;
}

// As the command does it: further from the limits where the check finds one broken, and everything
// left as it was where nothing helps or nothing is gained.
adapt::Judgement emit(Files const& files, adapt::AdaptOptions options) {
  adapt::FigureOptions figures{
      .plant = options.plant, .limits = options.limits, .max_flow_mm3_s = options.max_flow_mm3_s};
  adapt::Judgement judgement;
  for (double const caution : {0.0, 0.03, 0.1}) {
    options.caution = caution;
    Notices notices;
    {
      std::ofstream out(files.emitted, std::ios::binary);
      (void)adapt::adapt(
          files.original, options, [&](std::string_view text) { out << text; }, notices);
    }
    judgement = adapt::judge(files.original, files.emitted, figures, notices, nullptr);
    if (judgement.violation_count == 0 || judgement.parting) break;
  }
  return judgement;
}

}  // namespace

void try_bytes(std::string_view bytes) {
  static Files const files;
  if (bytes.empty()) return;
  adapt::AdaptOptions options{};
  options.plant = chosen(static_cast<unsigned char>(bytes.front()));
  options.limits = machine_limits();
  options.max_flow_mm3_s = 15;
  options.marker = "; adapted by meltlag for a test";
  std::ofstream(files.original, std::ios::binary) << bytes.substr(1);
  adapt::Judgement const judged = emit(files, options);
  promise(std::isfinite(judged.before.misplaced_mm3), "a figure is not finite");
  if (judged.parting) promise(false, "the path parts: " + judged.parting->text);
  if (judged.violation_count > 0) promise(false, judged.violations.front());
}

}  // namespace meltlag::fuzz
