// SPDX-License-Identifier: MIT
// What the screw can do: turning is not feeding. What it feeds for long is limited, giving again
// what a reverse stroke wound back is not, and a short burst comes out of melt that is ready.
//
// With x the delivered volume per second that the turning screw stands for (x < 0: backward),
// D the volume wound back and not given again, B the store of ready melt, q = max_flow_mm3_s and
// b = burst_mm3, the screw delivers u:
//   x < 0              u = x                                    dD/dt = −x    dB/dt = q
//   x ≥ 0 and D > 0    u = x                                    dD/dt = −x    dB/dt = q
//   x ≥ 0 and D = 0    y = min(x, max_burst);                   dB/dt = q − u
//                      u = y where y ≤ q or B > 0, else q
// with D ≥ 0 and 0 ≤ B ≤ b. What is turned in vain, ∫(x − u), changes nothing else.
#pragma once

#include <algorithm>
#include <limits>

namespace meltlag::melt {

struct SupplyLimits {
  double max_flow_mm3_s = std::numeric_limits<double>::infinity();   // q, fed for long
  double burst_mm3 = 0;                                              // b
  double max_burst_mm3_s = std::numeric_limits<double>::infinity();  // of a burst

  [[nodiscard]] bool limited() const {
    return max_flow_mm3_s < std::numeric_limits<double>::infinity() ||
           max_burst_mm3_s < std::numeric_limits<double>::infinity();
  }
  // At any one moment, with nothing wound back. Without a store the flow fed for long holds at
  // once.
  [[nodiscard]] double fastest_mm3_s() const {
    return burst_mm3 > 0 ? std::max(max_burst_mm3_s, max_flow_mm3_s) : max_flow_mm3_s;
  }
  friend bool operator==(SupplyLimits const&, SupplyLimits const&) = default;
};

// A volume rate that is linear in time.
struct Ramp {
  double duration_s;
  double start_mm3_s, end_mm3_s;

  [[nodiscard]] double volume_mm3() const { return (start_mm3_s + end_mm3_s) / 2 * duration_s; }
};

// D and B, advanced ramp by ramp. Exact: a ramp is split wherever D or B runs out and wherever it
// crosses a limit.
class Supply {
 public:
  explicit Supply(SupplyLimits const& limits)
      : limits_(limits), store_mm3_(limits.burst_mm3), limited_(limits.limited()) {}

  // Calls take(Ramp) with what the screw delivers, in order; the durations add up to that of
  // `asked`, whose rates are both ≥ 0 or both ≤ 0.
  template <class Take>
  void feed(Ramp asked, Take&& take) {
    if (!limited_ || is_fed_as_it_is(asked)) {
      take(asked);
      return;
    }
    while (asked.duration_s > 0) {
      Ramp const fed = step(asked);
      if (fed.duration_s > 0) take(fed);
    }
  }
  // A wait of unknown length fills the store; what was wound back stays so.
  void wait() { store_mm3_ = limits_.burst_mm3; }

  [[nodiscard]] SupplyLimits const& limits() const { return limits_; }
  [[nodiscard]] double wound_back_mm3() const { return wound_back_mm3_; }
  [[nodiscard]] double store_mm3() const { return store_mm3_; }
  [[nodiscard]] double starved_mm3() const { return starved_mm3_; }  // since the beginning
  void set(double wound_back_mm3, double store_mm3);

 private:
  // Mostly nothing is wound back, the store is full, and no more is asked for than is fed for long.
  [[nodiscard]] bool is_fed_as_it_is(Ramp const& asked) const {
    double const q = limits_.max_flow_mm3_s < limits_.max_burst_mm3_s ? limits_.max_flow_mm3_s
                                                                      : limits_.max_burst_mm3_s;
    return wound_back_mm3_ <= 0 && store_mm3_ == limits_.burst_mm3 && asked.duration_s > 0 &&
           asked.start_mm3_s >= 0 && asked.start_mm3_s <= q && asked.end_mm3_s >= 0 &&
           asked.end_mm3_s <= q;
  }
  // Takes the first part that holds to one line of the table off `asked`.
  [[nodiscard]] Ramp step(Ramp& asked);
  [[nodiscard]] Ramp step_fresh(Ramp& asked);
  void refill(double duration_s, double drawn_mm3);

  SupplyLimits limits_;
  double wound_back_mm3_ = 0;
  double store_mm3_;
  double starved_mm3_ = 0;
  bool limited_;
};

}  // namespace meltlag::melt
