// SPDX-License-Identifier: MIT
// Independent pieces of work on several processors.
#pragma once

#include <cstddef>
#include <functional>

namespace meltlag {

// How many may be at work: `asked`, or where that is 0 as many as there are processors.
[[nodiscard]] unsigned usable_threads(unsigned asked);

// Calls work(0) … work(count − 1), each once, on at most `threads` threads, the caller's among them
// (0: as many as there are processors). Which thread does what is left open. Returns when all is
// done; throws what the first of them by number threw.
void in_parallel(std::size_t count, unsigned threads, std::function<void(std::size_t)> const& work);

}  // namespace meltlag
