// SPDX-License-Identifier: MIT
// How long melt stays hot when it flows without mixing: laminar flow of a power-law melt in a pipe.
//
//   v/v_mean = c·(1 − s^a),  a = (n+1)/n,  c = (3n+1)/(n+1),  s the radius as a share of the pipe's
//   shortest residence time = mean/c       (half of the mean for n = 1)
//   F(t) = c·(s² − 2·s^(a+2)/(a+2)) with s^a = 1 − mean/(c·t):  what has left by t; for n = 1
//   F(t) = 1 − (mean/2t)²
// (n = 1: Levenspiel, "Chemical Reaction Engineering", 3rd ed., ch. 15; the rest follows from the
// power law's profile.) Fully developed flow, no slip, no diffusion. A screw stirs: what it turns
// stays between this, the widest spread, and plug flow. Beyond the tip nothing stirs.
#pragma once

namespace meltlag::melt {

struct LaminarResidence {
  double mean_s;      // volume over flow
  double flow_index;  // n
};

[[nodiscard]] double shortest_residence_s(LaminarResidence const& residence);
// Share of the outflow that stayed no longer than `time_s`.
[[nodiscard]] double share_out_by(LaminarResidence const& residence, double time_s);
// The time that `share` of the outflow (0 < share < 1) stays longer than.
[[nodiscard]] double residence_of_slowest_s(LaminarResidence const& residence, double share);

// What has to be pushed through until only `share_left` (0 … 1) of what comes out is still old
// melt, mm³.
struct Flush {
  double melt_volume_mm3, flow_index;
};
[[nodiscard]] double flush_mm3(Flush const& flush, double share_left);

inline constexpr double slow_share = 0.01, old_share = 0.05;

// The figures at one flow.
struct ResidenceFacts {
  double flow_mm3_s;
  double mean_s, shortest_s;
  double slow_s;     // slow_share of the melt stays longer
  double flush_mm3;  // until old_share of what comes out is still old
};
[[nodiscard]] ResidenceFacts residence_facts(Flush const& barrel, double flow_mm3_s);

}  // namespace meltlag::melt
