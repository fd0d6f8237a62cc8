// SPDX-License-Identifier: MIT
#include "row_machines.hpp"

#include <algorithm>

namespace meltlag::compare {
namespace {

constexpr double step_share = 0.02;

melt::PlantParameters lagless(melt::PlantParameters const& plant) {
  melt::PlantParameters out = plant;
  out.law = {
      .run_on_mm3 = 1e-6, .at_flow_mm3_s = 1, .flow_index = 1, .at_c = {}, .activation_kj_mol = {}};
  out.leak_per_s = 0;
  return out;
}

double& number_of(melt::PlantParameters& plant, Influence::What what) {
  switch (what) {
    case Influence::What::run_on:
      return plant.law.run_on_mm3;
    case Influence::What::factor:
      return plant.feed.delivered_factor;
    case Influence::What::index:
      return plant.law.flow_index;
    case Influence::What::backlash:
      return plant.feed.backlash_mm;
    case Influence::What::reverse:
      return plant.feed.reverse_factor;
    case Influence::What::leak:
      break;
  }
  return plant.leak_per_s;
}

}  // namespace

Machines machines_of(melt::PlantParameters const& plant, ProfileDeviations const& sd) {
  using What = Influence::What;
  Machines out{.plants = {plant, lagless(plant)}, .influences = {}};
  auto const add = [&](What what, double number_sd, double step) {
    melt::PlantParameters moved = plant;
    double& number = number_of(moved, what);
    out.influences.push_back({what, out.plants.size(), step, number, number_sd});
    number += step;
    out.plants.push_back(moved);
  };
  add(What::run_on, sd.run_on_mm3, step_share * plant.law.run_on_mm3);
  add(What::factor, sd.delivered_factor, step_share * plant.feed.delivered_factor);
  add(What::index, sd.flow_index, step_share);
  // An influence that may begin at 0 is felt over its own deviation.
  if (sd.backlash_mm > 0) add(What::backlash, sd.backlash_mm, sd.backlash_mm);
  if (sd.reverse_factor > 0)
    add(What::reverse,
        sd.reverse_factor,
        -std::min(sd.reverse_factor, plant.feed.reverse_factor / 2));
  if (sd.leak_per_s > 0) add(What::leak, sd.leak_per_s, sd.leak_per_s);
  return out;
}

}  // namespace meltlag::compare
