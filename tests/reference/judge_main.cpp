// SPDX-License-Identifier: MIT
// judge ORIGINAL [ADAPTED] [options]: the original as sliced and with its flow set right, and what
// was made of it. Exit status 1: a promise is broken; 2: no judgement.
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <sstream>
#include <stdexcept>

#include "judge_output.hpp"

namespace {

using namespace meltlag_reference;

struct Request {
  std::vector<std::string> files;
  Plant plant;
  Machine machine;
  InvariantOptions invariants;
  bool check = false;
  bool json = false;
  std::string profile;
  std::string cells;  // CSV of all cells of the last column
};

constexpr const char* usage =
    "judge ORIGINAL [ADAPTED] [--profile P.toml] [--invariants] [--json] [--OPTION VALUE ...]\n"
    "  plant: --run-on mm3 --at-flow mm3/s --index n --factor f --backlash mm --reverse f --leak "
    "1/s\n"
    "    --diameter mm --at-c C --activation kJ/mol --max-flow mm3/s --burst mm3\n"
    "    --max-burst mm3/s\n"
    "  motion: --acceleration mm/s2 (travels too) --travel-acceleration mm/s2\n"
    "    --retract-acceleration mm/s2 --jump x,y,z,e --max-speed x,y,z,e\n"
    "    --max-acceleration x,y,z,e --rule jump|rounding --rounding mm --stops-halt 0|1\n"
    "    --travel-acceleration-for-all 0|1 --retract mm --retract-speed mm/s --g91-covers-e 0|1\n"
    "  --cold C --extra-time share --cells OUT.csv";

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
Setter real(std::optional<double>& to) {
  return [&to](const std::string& s) { to = number(s); };
}
Setter flag(bool& to) {
  return [&to](const std::string& s) { to = number(s) != 0; };
}
Setter text(std::string& to) {
  return [&to](const std::string& s) { to = s; };
}

void add_plant(Plant& p, Setters& all) {
  all["--run-on"] = real(p.run_on_mm3);
  all["--at-flow"] = real(p.at_flow_mm3_s);
  all["--index"] = real(p.flow_index);
  all["--leak"] = real(p.leak_per_s);
  all["--backlash"] = real(p.backlash_mm);
  all["--reverse"] = real(p.reverse_factor);
  all["--factor"] = real(p.delivered_factor);
  all["--diameter"] = real(p.slicer_diameter_mm);
  all["--at-c"] = real(p.at_c);
  all["--activation"] = real(p.activation_kj_mol);
  all["--max-flow"] = real(p.max_flow_mm3_s);
  all["--max-burst"] = real(p.max_burst_mm3_s);
  all["--burst"] = real(p.burst_mm3);
}

void add_machine(Machine& m, Setters& all) {
  const auto axes = [](PerAxis& to) { return [&to](const std::string& s) { to = four(s); }; };
  Limits& limits = m.limits;
  all["--acceleration"] = [&limits](const std::string& s) {
    limits.acceleration_mm_s2 = limits.travel_acceleration_mm_s2 = number(s);
  };
  all["--travel-acceleration"] = real(limits.travel_acceleration_mm_s2);
  all["--retract-acceleration"] = real(limits.retract_acceleration_mm_s2);
  all["--jump"] = axes(limits.jump_mm_s);
  all["--max-speed"] = axes(limits.max_speed_mm_s);
  all["--max-acceleration"] = axes(limits.max_acceleration_mm_s2);
  all["--rule"] = [&m](const std::string& s) {
    m.rule = s == "rounding" ? CornerRule::rounding : CornerRule::jump;
  };
  all["--rounding"] = real(m.rounding_mm);
  all["--stops-halt"] = flag(m.stops_halt);
  all["--travel-acceleration-for-all"] = [&m](const std::string& s) {
    m.travel_rule = number(s) != 0 ? TravelRule::all_travels : TravelRule::moves_without_e;
  };
  all["--g91-covers-e"] = [&m](const std::string& s) {
    m.e_mode = number(s) != 0 ? EMode::g91_covers_e : EMode::g91_leaves_e;
  };
  all["--retract"] = real(m.retract_mm);
  all["--retract-speed"] = real(m.retract_speed_mm_s);
  all["--cold"] = real(m.cold_below_c);
}

Setters setters(Request& r) {
  Setters all;
  add_plant(r.plant, all);
  add_machine(r.machine, all);
  all["--profile"] = text(r.profile);
  all["--extra-time"] = real(r.invariants.extra_time);
  all["--cells"] = text(r.cells);
  return all;
}

// An option of its own beats the profile, whatever their order; so does the travels' own
// acceleration beat the one for all moves.
void set_options(const std::vector<std::pair<std::string, std::string>>& options, Request& r) {
  const auto known = setters(r);
  for (const auto& [name, value] : options) {
    if (name == "--profile") read_profile(slurp(value), r.plant, r.machine);
  }
  for (const bool first : {true, false}) {
    for (const auto& [name, value] : options) {
      if ((name == "--acceleration") == first) known.at(name)(value);
    }
  }
}

Request parse(int argc, char** argv) {
  Request r;
  const auto known = setters(r);
  std::vector<std::pair<std::string, std::string>> options;
  for (int i = 1; i < argc; ++i) {
    const std::string name = argv[i];
    if (name == "--invariants") {
      r.check = true;
    } else if (name == "--json") {
      r.json = true;
    } else if (!name.starts_with("--")) {
      r.files.push_back(name);
    } else if (!known.contains(name) || i + 1 >= argc) {
      throw std::runtime_error("unknown or unfinished option " + name + "\n" + usage);
    } else {
      options.emplace_back(name, argv[++i]);
    }
  }
  if (r.files.empty() || r.files.size() > 2) throw std::runtime_error(usage);
  set_options(options, r);
  return r;
}

void write_cells(const Verdict& v, const Program& original, const std::string& path) {
  std::ofstream out(path);
  out << "line,prints,length_mm,wanted_mm3,got_mm3\n";
  for (const Cell& cell : v.cell_table) {
    out << original.moves[cell.move].line << ',' << cell.prints << ',' << cell.length_mm << ','
        << cell.wanted_mm3 << ',' << cell.got_mm3 << '\n';
  }
}

int run(const Request& r) {
  const bool adapted = r.files.size() == 2;
  const std::string original = slurp(r.files.front()), emitted = slurp(r.files.back());
  std::vector<std::string> found;
  if (r.check) {
    found = check_invariants(original, emitted, r.plant, r.machine, r.invariants);
    if (!r.json) {
      std::printf("violations %zu\n", found.size());
      for (const std::string& text : found) std::printf("violation: %s\n", text.c_str());
    }
  }
  const Case files = make_case(original, emitted, r.plant, r.machine);
  std::vector<NamedVerdict> columns{
      {"as_sliced", judge_column(files, r.machine, Column::as_sliced)},
      {"flow_set_right", judge_column(files, r.machine, Column::flow_set_right)}};
  if (adapted) columns.push_back({"adapted", judge_column(files, r.machine, Column::adapted)});
  r.json ? print_json(columns, found) : print_table(columns);
  if (!r.cells.empty()) write_cells(columns.back().verdict, files.original, r.cells);
  return found.empty() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(parse(argc, argv));
  } catch (const std::exception& error) {
    std::fprintf(stderr, "judge: %s\n", error.what());
    return 2;
  }
}
