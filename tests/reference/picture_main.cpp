// SPDX-License-Identifier: MIT
// picture TEST.gcode PICTURE [options] > TRUTH.csv: a hidden machine prints the ring piece, and a
// scanner or camera takes a picture of it. The truth has a row every 0.1 mm.
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <fstream>
#include <functional>
#include <iterator>
#include <map>
#include <sstream>
#include <stdexcept>

#include "picture.hpp"

namespace {

using namespace meltlag_reference;

struct Request {
  HiddenMachine hidden;
  Machine machine;
  BeadOptions bead;
  PictureOptions picture;
};

std::string slurp(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + path);
  return {std::istreambuf_iterator<char>(in), {}};
}

Colour colour(const std::string& text) {
  Colour out{};
  if (std::sscanf(text.c_str(), "%lf,%lf,%lf", &out[0], &out[1], &out[2]) != 3)
    throw std::runtime_error("a colour is R,G,B: " + text);
  return out;
}

void take(Request& r, const std::string& name, const std::string& text) {
  PictureOptions& p = r.picture;
  const std::map<std::string, double*> numbers{
      {"--run-on", &r.hidden.plant.run_on_mm3},
      {"--at-flow", &r.hidden.plant.at_flow_mm3_s},
      {"--index", &r.hidden.plant.flow_index},
      {"--factor", &r.hidden.plant.delivered_factor},
      {"--pulse", &r.hidden.pulse_share},
      {"--mm-per-turn", &r.hidden.mm_per_turn},
      {"--height", &r.bead.height_mm},
      {"--uneven", &r.bead.uneven_mm},
      {"--roughness", &r.bead.roughness_mm},
      {"--wander", &r.bead.wander_share},
      {"--wander-s", &r.bead.wander_s},
      {"--lost-from", &r.bead.lost_from_mm},
      {"--lost-to", &r.bead.lost_to_mm},
      {"--loose-from", &r.bead.loose_from_mm},
      {"--loose-to", &r.bead.loose_to_mm},
      {"--loose-by", &r.bead.loose_by_mm},
      {"--dpi", &p.dpi},
      {"--bed-x", &p.bed_x_mm},
      {"--bed-y", &p.bed_y_mm},
      {"--piece-turn", &p.piece_turn_deg},
      {"--piece-x", &p.piece_x_mm},
      {"--piece-y", &p.piece_y_mm},
      {"--page-turn", &p.page_turn_deg},
      {"--scale-x", &p.page_scale_x},
      {"--scale-y", &p.page_scale_y},
      {"--scan-scale-x", &p.scan_scale_x},
      {"--scan-scale-y", &p.scan_scale_y},
      {"--skew", &p.skew_deg},
      {"--stretch", &p.stretch_mm},
      {"--tilt", &p.tilt_deg},
      {"--radial", &p.radial},
      {"--blur", &p.blur_px},
      {"--noise", &p.noise},
      {"--gradient", &p.gradient},
      {"--shadow", &p.shadow},
      {"--glare", &p.glare},
      {"--clear", &p.clear},
      {"--crop", &p.crop},
  };
  const double value = std::strtod(text.c_str(), nullptr);
  if (const auto found = numbers.find(name); found != numbers.end())
    *found->second = value;
  else if (name == "--max-flow")
    r.hidden.plant.max_flow_mm3_s = value;
  else if (name == "--burst")
    r.hidden.plant.burst_mm3 = value;
  else if (name == "--mirrored")
    p.mirrored = value != 0;
  else if (name == "--grey")
    p.grey = value != 0;
  else if (name == "--dust")
    p.dust = static_cast<int>(value);
  else if (name == "--hairs")
    p.hairs = static_cast<int>(value);
  else if (name == "--quality")
    p.jpeg_quality = static_cast<int>(value);
  else if (name == "--seed")
    p.seed = r.bead.seed = static_cast<std::uint32_t>(value);
  else if (name == "--background")
    p.background = colour(text);
  else if (name == "--granule")
    p.granules.push_back(colour(text));
  else
    throw std::runtime_error("there is no option " + name);
}

int run(int argc, char** argv) {
  if (argc < 3 || argc % 2 == 0)
    throw std::runtime_error("picture TEST.gcode PICTURE [--OPTION VALUE ...]");
  Request request;
  const std::vector<Colour> usual = request.picture.granules;
  request.picture.granules.clear();
  request.picture.file = argv[2];
  for (int i = 3; i + 1 < argc; i += 2) take(request, argv[i], argv[i + 1]);
  if (request.picture.granules.empty()) request.picture.granules = usual;
  const HeadMotion motion =
      plan_motion(slurp(argv[1]), request.machine, request.hidden.plant.slicer_diameter_mm);
  const Print print = simulate_print(motion, request.hidden);
  const std::vector<BeadPlace> bead = lay_bead(motion, print, request.bead);
  const std::vector<Fault> faults = take_picture(bead, request.picture);
  std::printf("way_mm,x_mm,y_mm,line,prints,width_mm\n");
  for (const BeadPlace& place : bead)
    std::printf("%.3f,%.3f,%.3f,%zu,%d,%.4f\n",
                place.way_mm,
                place.x_mm,
                place.y_mm,
                place.line,
                place.prints ? 1 : 0,
                place.width_mm());
  for (const Fault& fault : faults)
    std::printf("fault,%.3f,%.3f,,,%.3f\n", fault.x_mm, fault.y_mm, fault.radius_mm);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "picture: %s\n", error.what());
    return 1;
  }
}
