// SPDX-License-Identifier: MIT
#include "kept_passes.hpp"

#include <algorithm>

namespace meltlag::adapt {

AdaptInfo KeptPasses::operator()(double price_mm3_per_s) {
  bool first = false;
  Kept* kept = nullptr;
  {
    std::lock_guard const lock(mutex_);
    first = kept_.empty();
    kept = &kept_.emplace_back(price_mm3_per_s);
  }
  PassOptions options = options_;
  options.price_mm3_per_s = price_mm3_per_s;
  Notices same;
  kept->info = adapt_pass(
      path_,
      options,
      [&](std::string_view text) { kept->text.write(text); },
      first ? notices_ : same);
  return kept->info;
}

bool KeptPasses::write(double price_mm3_per_s, OutputFile& out, AdaptInfo& info) {
  auto const found = std::ranges::find(kept_, price_mm3_per_s, &Kept::price_mm3_per_s);
  if (found == kept_.end()) return false;
  out.write_all_of(found->text);
  info = found->info;
  return true;
}

}  // namespace meltlag::adapt
