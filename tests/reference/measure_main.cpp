// SPDX-License-Identifier: MIT
// measure TEST.gcode SHEET.csv [options]: the sheet as a person would fill it in for a machine
// that is known here and hidden from whoever fits.
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <sstream>
#include <stdexcept>

#include "measure.hpp"

namespace {

using namespace meltlag_reference;

struct Request {
  std::vector<std::string> files;
  HiddenMachine hidden;
  Machine machine;
  Measuring how;
};

constexpr const char* usage =
    "measure TEST.gcode SHEET.csv [--OPTION VALUE ...] > FILLED.csv\n"
    "  hidden machine: --run-on mm3 --at-flow mm3/s --index n --factor f --backlash mm --reverse "
    "f\n"
    "    --leak 1/s --pulse share --mm-per-turn mm --pulse-phase rad --creep-share c --creep-s s\n"
    "    --max-flow mm3/s --burst mm3 --max-burst mm3/s --at-c C --activation kJ/mol --diameter "
    "mm\n"
    "  measuring: --width-noise mm --place-error mm --jaw mm --height mm --height-error mm\n"
    "    --mass-noise g --density g/cm3 --outliers share --seed N --rounding 0|1\n"
    "  motion: --acceleration mm/s2 --jump x,y,z,e --max-speed x,y,z,e\n"
    "    --travel-acceleration mm/s2 --retract-acceleration mm/s2 --stops-halt 0|1\n"
    "    --max-acceleration x,y,z,e --rule jump|rounding --corner-rounding mm --g91-covers-e 0|1";

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
using Setters = std::map<std::string, Setter>;

Setter real(double& to) {
  return [&to](const std::string& s) { to = number(s); };
}

void add_hidden(HiddenMachine& h, Setters& all) {
  Plant& p = h.plant;
  all["--run-on"] = real(p.run_on_mm3);
  all["--at-flow"] = real(p.at_flow_mm3_s);
  all["--index"] = real(p.flow_index);
  all["--factor"] = real(p.delivered_factor);
  all["--backlash"] = real(p.backlash_mm);
  all["--reverse"] = real(p.reverse_factor);
  all["--leak"] = real(p.leak_per_s);
  all["--max-flow"] = [&p](const std::string& s) { p.max_flow_mm3_s = number(s); };
  all["--max-burst"] = [&p](const std::string& s) { p.max_burst_mm3_s = number(s); };
  all["--burst"] = real(p.burst_mm3);
  all["--diameter"] = real(p.slicer_diameter_mm);
  all["--at-c"] = [&p](const std::string& s) { p.at_c = number(s); };
  all["--activation"] = [&p](const std::string& s) { p.activation_kj_mol = number(s); };
  all["--pulse"] = real(h.pulse_share);
  all["--mm-per-turn"] = real(h.mm_per_turn);
  all["--pulse-phase"] = real(h.pulse_phase_rad);
  all["--creep-share"] = real(h.creep_share);
  all["--creep-s"] = real(h.creep_s);
}

void add_measuring(Measuring& m, Setters& all) {
  all["--width-noise"] = real(m.width_noise_mm);
  all["--place-error"] = real(m.place_error_mm);
  all["--jaw"] = real(m.jaw_mm);
  all["--height"] = real(m.height_mm);
  all["--height-error"] = real(m.height_error_mm);
  all["--mass-noise"] = real(m.mass_noise_g);
  all["--density"] = real(m.density_g_cm3);
  all["--outliers"] = real(m.outliers);
  all["--seed"] = [&m](const std::string& s) { m.seed = std::strtoull(s.c_str(), nullptr, 10); };
  all["--rounding"] = [&m](const std::string& s) {
    if (number(s) == 0) m.width_step_mm = m.place_step_mm = m.mass_step_g = 0;
  };
}

void add_motion(Machine& m, Setters& all) {
  const auto axes = [](PerAxis& to) { return [&to](const std::string& s) { to = four(s); }; };
  all["--acceleration"] = [&m](const std::string& s) {
    m.limits.acceleration_mm_s2 = m.limits.travel_acceleration_mm_s2 = number(s);
  };
  all["--travel-acceleration"] = real(m.limits.travel_acceleration_mm_s2);
  all["--retract-acceleration"] = real(m.limits.retract_acceleration_mm_s2);
  all["--stops-halt"] = [&m](const std::string& s) { m.stops_halt = number(s) != 0; };
  all["--jump"] = axes(m.limits.jump_mm_s);
  all["--max-speed"] = axes(m.limits.max_speed_mm_s);
  all["--max-acceleration"] = axes(m.limits.max_acceleration_mm_s2);
  all["--rule"] = [&m](const std::string& s) {
    m.rule = s == "rounding" ? CornerRule::rounding : CornerRule::jump;
  };
  all["--corner-rounding"] = real(m.rounding_mm);
  all["--g91-covers-e"] = [&m](const std::string& s) {
    m.e_mode = number(s) != 0 ? EMode::g91_covers_e : EMode::g91_leaves_e;
  };
}

Request parse(int argc, char** argv) {
  Request r;
  Setters known;
  add_hidden(r.hidden, known);
  add_measuring(r.how, known);
  add_motion(r.machine, known);
  for (int i = 1; i < argc; ++i) {
    const std::string name = argv[i];
    if (!name.starts_with("--")) {
      r.files.push_back(name);
    } else if (!known.contains(name) || i + 1 >= argc) {
      throw std::runtime_error("unknown or unfinished option " + name + "\n" + usage);
    } else {
      known.at(name)(argv[++i]);
    }
  }
  if (r.files.size() != 2) throw std::runtime_error(usage);
  const bool pulses = r.hidden.pulse_share != 0, creeps = r.hidden.creep_share != 0;
  if (pulses && !(r.hidden.mm_per_turn > 0)) throw std::runtime_error("--pulse: --mm-per-turn?");
  if (creeps && !(r.hidden.creep_s > 0)) throw std::runtime_error("--creep-share: --creep-s?");
  return r;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    const Request r = parse(argc, argv);
    const SheetFile sheet = read_sheet(slurp(r.files[1]));
    const auto values = measure_sheet(slurp(r.files[0]), sheet.rows, r.hidden, r.machine, r.how);
    std::fputs(write_sheet(sheet, values).c_str(), stdout);
    return 0;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "measure: %s\n", error.what());
    return 2;
  }
}
