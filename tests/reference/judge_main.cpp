// SPDX-License-Identifier: MIT
// judge ORIGINAL [EMITTED] [options]: every figure of the reference, one a line.
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <sstream>
#include <stdexcept>

#include "reference.hpp"

namespace {

using namespace meltlag_reference;

struct Request {
  std::vector<std::string> files;
  Plant plant;
  Machine machine;
  InvariantOptions invariants;
  std::string check;  // "invariants" when asked for
  std::string cells;  // CSV of all cells
};

std::string slurp(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + path);
  return {std::istreambuf_iterator<char>(in), {}};
}

double number(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (end == text.c_str() || *end != 0) throw std::runtime_error("no number: " + text);
  return value;
}

PerAxis four(const std::string& text) {
  PerAxis out{};
  std::stringstream in(text);
  std::string part;
  for (double& value : out) {
    if (!std::getline(in, part, ',')) throw std::runtime_error("x,y,z,e wanted: " + text);
    value = number(part);
  }
  return out;
}

using Setter = std::function<void(const std::string&)>;

std::map<std::string, Setter> setters(Request& r) {
  const auto real = [](double& to) { return [&to](const std::string& s) { to = number(s); }; };
  const auto axes = [](PerAxis& to) { return [&to](const std::string& s) { to = four(s); }; };
  Limits& limits = r.machine.limits;
  return {
      {"--run-on", real(r.plant.run_on_mm3)},
      {"--at-flow", real(r.plant.at_flow_mm3_s)},
      {"--index", real(r.plant.flow_index)},
      {"--leak", real(r.plant.leak_per_s)},
      {"--play", real(r.plant.play_mm)},
      {"--reverse", real(r.plant.reverse_factor)},
      {"--factor", real(r.plant.delivered_factor)},
      {"--diameter", real(r.plant.slicer_diameter_mm)},
      {"--at-c", [&r](const std::string& s) { r.plant.at_c = number(s); }},
      {"--activation", [&r](const std::string& s) { r.plant.activation_kj_mol = number(s); }},
      {"--acceleration",
       [&limits](const std::string& s) {
         limits.acceleration_mm_s2 = limits.travel_acceleration_mm_s2 = number(s);
       }},
      {"--jump", axes(limits.jump_mm_s)},
      {"--max-speed", axes(limits.max_speed_mm_s)},
      {"--max-acceleration", axes(limits.max_acceleration_mm_s2)},
      {"--rule",
       [&r](const std::string& s) {
         r.machine.rule = s == "rounding" ? CornerRule::rounding : CornerRule::jump;
       }},
      {"--rounding", real(r.machine.rounding_mm)},
      {"--max-flow", real(r.machine.max_flow_mm3_s)},
      {"--cold", real(r.machine.cold_below_c)},
      {"--retract", real(r.machine.retract_mm)},
      {"--retract-speed", real(r.machine.retract_speed_mm_s)},
      {"--extra-time", real(r.invariants.extra_time)},
      {"--cells", [&r](const std::string& s) { r.cells = s; }},
      {"--g91-covers-e",
       [&r](const std::string& s) {
         r.machine.e_mode = number(s) != 0 ? EMode::g91_covers_e : EMode::g91_leaves_e;
       }},
  };
}

Request parse(int argc, char** argv) {
  Request r;
  const auto known = setters(r);
  for (int i = 1; i < argc; ++i) {
    const std::string name = argv[i];
    if (name == "--invariants") {
      r.check = "invariants";
    } else if (!name.starts_with("--")) {
      r.files.push_back(name);
    } else if (!known.contains(name) || i + 1 >= argc) {
      throw std::runtime_error("unknown or unfinished option " + name);
    } else {
      known.at(name)(argv[++i]);
    }
  }
  if (r.files.empty() || r.files.size() > 2) {
    throw std::runtime_error("judge ORIGINAL [EMITTED] [--invariants] [--OPTION VALUE ...]");
  }
  if (r.files.size() == 1) r.files.push_back(r.files.front());
  return r;
}

void show(const Verdict& v) {
  const auto real = [](const char* name, double value) { std::printf("%s %.4f\n", name, value); };
  real("misplaced_percent", v.misplaced_percent);
  real("bead_error_percent", v.bead_error_percent);
  real("wanted_mm3", v.wanted_mm3);
  real("got_on_path_mm3", v.got_on_path_mm3);
  real("uncounted_mm3", v.uncounted_mm3);
  std::printf("cells %zu\n", v.cells);
  std::printf("knobs %zu\n", v.knobs);
  real("knob_mean_mm3", v.knob_mean_mm3);
  real("knob_largest_mm3", v.knob_largest_mm3);
  real("knob_largest_ball_mm", v.knob_largest_ball_mm);
  std::printf("starts %zu\ngaps %zu\n", v.starts, v.gaps);
  real("gap_mean_mm", v.gap_mean_mm);
  real("gap_largest_mm", v.gap_largest_mm);
  real("planned_s", v.planned_s);
  real("path_only_s", v.path_only_s);
  real("original_planned_s", v.original_planned_s);
  real("original_path_only_s", v.original_path_only_s);
  std::printf("moves %zu\n", v.moves);
  real("peak_flow_mm3_s", v.peak_flow_mm3_s);
  real("peak_e_speed_mm_s", v.peak_e_speed_mm_s);
  real("largest_e_jump_mm_s", v.largest_e_jump_mm_s);
  real("largest_e_acceleration_mm_s2", v.largest_e_acceleration_mm_s2);
  real("run_on_max_mm3", v.run_on_max_mm3);
  real("run_on_end_mm3", v.run_on_end_mm3);
}

void write_cells(const Verdict& v, const Program& original, const std::string& path) {
  std::ofstream out(path);
  out << "line,prints,length_mm,wanted_mm3,got_mm3\n";
  for (const Cell& cell : v.cell_table) {
    out << original.moves[cell.move].line << ',' << cell.prints << ',' << cell.length_mm << ','
        << cell.wanted_mm3 << ',' << cell.got_mm3 << '\n';
  }
}

}  // namespace

int main(int argc, char** argv) {
  try {
    Request r = parse(argc, argv);
    const std::string original = slurp(r.files[0]), emitted = slurp(r.files[1]);
    int status = 0;
    if (r.check == "invariants") {
      const auto found = check_invariants(original, emitted, r.plant, r.machine, r.invariants);
      std::printf("violations %zu\n", found.size());
      for (const std::string& text : found) std::printf("violation: %s\n", text.c_str());
      status = found.empty() ? 0 : 1;
    }
    const Verdict v = judge(original, emitted, r.plant, r.machine);
    show(v);
    if (!r.cells.empty()) {
      write_cells(v, read_program(original, r.machine, r.plant), r.cells);
    }
    return status;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "judge: %s\n", error.what());
    return 2;
  }
}
