// SPDX-License-Identifier: MIT
// Machines that know more than the lag law, through the whole chain: piece → readings → fit → adapt
// → judged on that machine:
//   richer_study MELTLAG FILE.gcode [MACHINES] [FIRST]
// Two roads to a profile, 40 readings by calipers and a picture of the rings, beside the law's own
// numbers without any measuring. Files go into the present folder. Exit status 1: a road was
// refused or did not lead below the flow setting.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <optional>
#include <stdexcept>

#include "fit/ring_bench.hpp"

namespace {

namespace ref = meltlag_reference;

constexpr double cups_sd = 0.01, max_flow_mm3_s = 20;
constexpr int readings = 40;

std::string slurp(std::string const& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + path);
  return {std::istreambuf_iterator<char>(in), {}};
}

void write(std::string const& path, std::string const& text) {
  std::ofstream(path, std::ios::binary) << text;
}

// What a person has before the lag is measured; `lag` follows [feed].
std::string profile(double factor, std::string const& lag) {
  return fmt::format(
      "title = \"hidden\"\n[feed]\nslicer_diameter_mm = 1.75\ndelivered_factor = {:.4f}\n"
      "delivered_factor_sd = {:.4f}\n{}[machine]\nacceleration_mm_s2 = 800\n"
      "corner_rule = \"jump\"\ncorner_jump_mm_s = {{ x = 10, y = 10, z = 0.4, e = 5 }}\n"
      "max_speed_mm_s = {{ x = 300, y = 300, z = 20, e = 60 }}\n"
      "max_acceleration_mm_s2 = {{ x = 9000, y = 9000, z = 500, e = 5000 }}\n"
      "[limits]\nmax_flow_mm3_s = {}\n",
      factor,
      cups_sd * factor,
      lag,
      max_flow_mm3_s);
}

ref::HiddenMachine rich_machine(ref::Dice& dice) {
  synthetic::Truth const truth = ring_bench::random_truth(dice);
  ref::HiddenMachine hidden = ring_bench::hidden_machine(
      truth,
      {.wander_share = 0.01 + 0.03 * dice.uniform(), .pulse_share = 0.01 + 0.07 * dice.uniform()},
      dice);
  hidden.creep_share = 0.05 + 0.25 * dice.uniform();
  hidden.creep_s = 4 + 16 * dice.uniform();
  hidden.hysteresis = 0.2 * dice.uniform();
  hidden.bend = std::log(1.4) * (2 * dice.uniform() - 1);
  hidden.plant.leak_per_s =
      0.05 * dice.uniform() * hidden.plant.at_flow_mm3_s / hidden.plant.run_on_mm3;
  hidden.plant.backlash_mm = 0.15 * dice.uniform();
  return hidden;
}

// The lag law holds; the feed wanders and pulses.
ref::HiddenMachine with_noise_alone(ref::HiddenMachine hidden) {
  hidden.creep_share = hidden.hysteresis = hidden.bend = 0;
  hidden.plant.leak_per_s = hidden.plant.backlash_mm = 0;
  return hidden;
}

class Chain {
 public:
  Chain(std::string program, std::string file)
      : program_(std::move(program)),
        file_(std::move(file)),
        text_(slurp(file_)),
        fence_(synthetic::make_bench(synthetic::piece_options(20), readings)),
        rings_(ring_bench::make_bench()) {
    write("fence.gcode", fence_.piece.gcode);
    write("rings.gcode", rings_.piece.gcode);
  }

  struct Shares {
    double as_sliced = 0, flow_set_right = 0;
    std::optional<double> calipers, scan, law;  // none: the program refused
    std::optional<double> noise;  // the law's file where only the feed departs from it
  };

  Shares run(int number) const {
    ref::Dice dice(static_cast<std::uint64_t>(5000 + number));
    ref::HiddenMachine const hidden = rich_machine(dice);
    double const cups = hidden.plant.delivered_factor * (1 + cups_sd * dice.normal());
    write("bare.toml", profile(cups, ""));
    write(
        "law.toml",
        profile(cups,
                fmt::format("[lag]\nrun_on_mm3 = {:.4f}\nat_flow_mm3_s = {}\nflow_index = {:.4f}\n",
                            hidden.plant.run_on_mm3,
                            hidden.plant.at_flow_mm3_s,
                            hidden.plant.flow_index)));
    measure_fence(hidden, dice);
    measure_rings(hidden, dice);
    ref::HiddenMachine later = hidden;  // the same machine on another day
    later.wander_seed = dice.bits();
    later.pulse_phase_rad = 6.28 * dice.uniform();
    ref::Plant plant;
    plant.delivered_factor = cups;
    plant.run_on_mm3 = hidden.plant.run_on_mm3;
    plant.flow_index = hidden.plant.flow_index;
    plant.max_flow_mm3_s = max_flow_mm3_s;
    Shares out;
    ref::Case const sliced = ref::make_case(text_, text_, plant, {});
    out.as_sliced = ref::misplaced_share(sliced, {}, ref::Column::as_sliced, later);
    out.flow_set_right = ref::misplaced_share(sliced, {}, ref::Column::flow_set_right, later);
    out.law = adapted("law.toml", plant, later);
    out.noise = adapted("law.toml", plant, with_noise_alone(later));
    if (calls(
            "calibrate fit fence.gcode fence.csv --profile bare.toml --rows-hold --output m.toml"))
      out.calipers = adapted("m.toml", plant, later);
    if (calls(
            "calibrate fit rings.gcode rings.csv --profile bare.toml --rows-hold --output m.toml"))
      out.scan = adapted("m.toml", plant, later);
    return out;
  }

 private:
  [[nodiscard]] bool calls(std::string const& words) const {
    std::string const line = fmt::format("\"{}\" {} --force >out.txt 2>err.txt", program_, words);
    return std::system(line.c_str()) == 0;
  }

  [[nodiscard]] std::optional<double> adapted(char const* with,
                                              ref::Plant const& plant,
                                              ref::HiddenMachine const& hidden) const {
    if (!calls(fmt::format("adapt \"{}\" --profile {} --output adapted.gcode", file_, with)))
      return {};
    ref::Case const files = ref::make_case(text_, slurp("adapted.gcode"), plant, {});
    return ref::misplaced_share(files, {}, ref::Column::adapted, hidden);
  }

  void measure_fence(ref::HiddenMachine const& hidden, ref::Dice& dice) const {
    ref::Measuring how;
    how.height_mm = fence_.options.layer_height_mm;
    how.seed = dice.bits();
    auto sheet = ref::read_sheet(meltlag::reading::write_sheet(fence_.plan.readings));
    sheet.rows.resize(static_cast<std::size_t>(fence_.plan.chosen));
    ref::Print const print = ref::simulate_print(fence_.motion, hidden);
    write("fence.csv",
          ref::write_sheet(sheet, ref::measure_sheet(fence_.motion, print, sheet.rows, how)));
  }

  void measure_rings(ref::HiddenMachine const& hidden, ref::Dice& dice) const {
    ring_bench::Trouble const bed{.uneven_mm = 0.05};
    ring_bench::PictureOfWidths picture(rings_, {}, dice.bits());
    write("rings.csv",
          meltlag::scan::write_scan_sheet(
              picture.take(ring_bench::lay(rings_, hidden, bed, dice.bits())), 2));
  }

  std::string program_, file_, text_;
  synthetic::Bench fence_;
  ring_bench::Bench rings_;
};

struct Column {
  char const* name;
  std::vector<double> of_right = {};  // adapted over flow set right
  int refused = 0;
  [[nodiscard]] bool pays() const {
    return refused == 0 && !of_right.empty() && of_right[of_right.size() / 2] < 1;
  }
  void add(std::optional<double> const& share, double right) {
    if (share)
      of_right.push_back(*share / right);
    else
      ++refused;
  }
  void tell() {
    if (of_right.empty()) return fmt::print("{}: none\n", name);
    std::ranges::sort(of_right);
    std::size_t const n = of_right.size();
    fmt::print(
        "{}: of flow set right median {:.2f}, nine of ten below {:.2f}, worst {:.2f}; {} "
        "machines, {} refused\n",
        name,
        of_right[n / 2],
        of_right[std::min(n - 1, 9 * n / 10)],
        of_right.back(),
        n,
        refused);
  }
};

}  // namespace

int main(int count, char** words) {
  if (count < 3) return fmt::print(stderr, "richer_study MELTLAG FILE [MACHINES] [FIRST]\n"), 2;
  try {
    int const machines = count > 3 ? std::atoi(words[3]) : 100;
    int const first = count > 4 ? std::atoi(words[4]) : 0;
    Chain const chain(words[1], words[2]);
    Column calipers{"40 readings by calipers"}, scan{"a picture of the rings"},
        law{"the law's own numbers"}, noise{"the same, the feed alone departs"};
    std::vector<double> right;
    for (int i = first; i < first + machines; ++i) {
      Chain::Shares const s = chain.run(i);
      right.push_back(s.flow_set_right);
      calipers.add(s.calipers, s.flow_set_right);
      scan.add(s.scan, s.flow_set_right);
      law.add(s.law, s.flow_set_right);
      noise.add(s.noise, s.flow_set_right);
      fmt::print(
          stderr,
          "{}: as sliced {:.1f} %, right {:.1f}, calipers {:.1f}, scan {:.1f}, law {:.1f}, noise "
          "{:.1f}\n",
          i,
          100 * s.as_sliced,
          100 * s.flow_set_right,
          100 * s.calipers.value_or(-1),
          100 * s.scan.value_or(-1),
          100 * s.law.value_or(-1),
          100 * s.noise.value_or(-1));
    }
    fmt::print("flow set right misplaces {:.1f} % (median)\n",
               100 * synthetic::Errors::median(right));
    for (Column* column : {&calipers, &scan, &law, &noise}) column->tell();
    return calipers.pays() && scan.pays() ? 0 : 1;
  } catch (std::exception const& error) {
    fmt::print(stderr, "richer_study: {}\n", error.what());
    return 2;
  }
}
