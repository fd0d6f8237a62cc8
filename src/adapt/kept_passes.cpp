// SPDX-License-Identifier: MIT
#include "kept_passes.hpp"

#include <algorithm>
#include <utility>

namespace meltlag::adapt {

AdaptInfo KeptPasses::operator()(double price_mm3_per_s) {
  bool noted = false;
  {
    std::lock_guard const lock(mutex_);
    noted = std::exchange(noted_, true);
  }
  PassOptions options = options_;
  options.price_mm3_per_s = price_mm3_per_s;
  Notices same;
  std::list<Kept> made(1);
  Kept& pass = made.front();
  pass.price_mm3_per_s = price_mm3_per_s;
  pass.info = adapt_pass(
      path_,
      options,
      [&](std::string_view text) { pass.text.write(text); },
      noted ? same : notices_);
  AdaptInfo const info = pass.info;
  std::lock_guard const lock(mutex_);
  kept_.splice(kept_.end(), made);
  if (kept_.size() > most_kept) kept_.pop_front();
  return info;
}

bool KeptPasses::write(double price_mm3_per_s, OutputFile& out, AdaptInfo& info) {
  auto const found = std::ranges::find(kept_, price_mm3_per_s, &Kept::price_mm3_per_s);
  if (found == kept_.end()) return false;
  out.write_all_of(found->text);
  info = found->info;
  return true;
}

}  // namespace meltlag::adapt
