// SPDX-License-Identifier: MIT
#include "meltlag/motion/limits.hpp"

namespace meltlag::motion {
namespace {

// NaN (not given) fails both comparisons.
void set_if_positive(double given, double& value) {
  if (given > 0) {
    value = given;
  }
}

void set_each_positive(gcode::Setting const& s, PerAxis& values) {
  set_if_positive(s.x, values[0]);
  set_if_positive(s.y, values[1]);
  set_if_positive(s.z, values[2]);
  set_if_positive(s.e, values[axis_e]);
}

// A jump of 0 is a legal setting: the axis has to stop to change its speed at all.
void set_jumps(gcode::Setting const& s, PerAxis& jumps) {
  double const given[] = {s.x, s.y, s.z, s.e};
  for (std::size_t k = 0; k < jumps.size(); ++k) {
    if (given[k] >= 0) {
      jumps[k] = given[k];
    }
  }
}

}  // namespace

void apply(gcode::Setting const& setting, Limits& limits) {
  switch (setting.kind) {
    case gcode::SettingKind::max_acceleration:
      return set_each_positive(setting, limits.max_acceleration_mm_s2);
    case gcode::SettingKind::max_speed:
      return set_each_positive(setting, limits.max_speed_mm_s);
    case gcode::SettingKind::acceleration:
      set_if_positive(setting.all, limits.acceleration_mm_s2);
      set_if_positive(setting.all, limits.travel_acceleration_mm_s2);
      set_if_positive(setting.travel, limits.travel_acceleration_mm_s2);
      set_if_positive(setting.retract, limits.retract_acceleration_mm_s2);
      return;
    case gcode::SettingKind::corner_jump:
      return set_jumps(setting, limits.corner_jump_mm_s);
  }
}

}  // namespace meltlag::motion
