// SPDX-License-Identifier: MIT
#include "meltlag/base/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <future>
#include <thread>
#include <vector>

namespace meltlag {

unsigned usable_threads(unsigned asked) {
  return asked > 0 ? asked : std::max(1U, std::thread::hardware_concurrency());
}

void in_parallel(std::size_t count,
                 unsigned threads,
                 std::function<void(std::size_t)> const& work) {
  std::vector<std::exception_ptr> failures(count);
  std::atomic<std::size_t> next = 0;
  auto const take_turns = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      try {
        work(i);
      } catch (...) {
        failures[i] = std::current_exception();
      }
    }
  };
  std::size_t const most = usable_threads(threads);
  std::vector<std::future<void>> others;
  for (std::size_t i = 1; i < std::min(most, count); ++i)
    others.push_back(std::async(std::launch::async, take_turns));
  take_turns();
  for (std::future<void>& other : others) other.get();
  for (std::exception_ptr const& failure : failures)
    if (failure) std::rethrow_exception(failure);
}

}  // namespace meltlag
