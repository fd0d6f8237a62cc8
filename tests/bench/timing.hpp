// SPDX-License-Identifier: MIT
// Time and memory of a program or of a piece of work, each in a process of its own.
#pragma once

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <exception>
#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

namespace meltlag::bench {

struct Costs {
  double wall_s = 0, peak_mib = 0;
};

// Runs `work` in a child process; throws when it fails. The child never returns from here.
inline Costs run_here(std::function<void()> const& work) {
  auto const begin = std::chrono::steady_clock::now();
  pid_t const child = ::fork();
  if (child < 0) throw std::runtime_error("cannot start a process");
  if (child == 0) {
    try {
      work();
      ::_exit(0);
    } catch (std::exception const& error) {
      std::fprintf(stderr, "%s\n", error.what());
    }
    ::_exit(1);
  }
  int status = 0;
  struct rusage used {};
  if (::wait4(child, &status, 0, &used) != child || !WIFEXITED(status) || WEXITSTATUS(status) != 0)
    throw std::runtime_error("a measured run failed");
  std::chrono::duration<double> const taken = std::chrono::steady_clock::now() - begin;
  return {taken.count(), static_cast<double>(used.ru_maxrss) / 1024};
}

inline Costs run_program(std::vector<std::string> const& words) {
  return run_here([&words] {
    std::vector<char*> pointers;
    for (std::string const& word : words) pointers.push_back(const_cast<char*>(word.c_str()));
    pointers.push_back(nullptr);
    ::execv(pointers.front(), pointers.data());
    throw std::runtime_error("cannot start " + words.front());
  });
}

// The median time and the greatest memory of several runs.
inline Costs median_of(int runs, std::function<Costs()> const& run) {
  std::vector<double> times;
  Costs out;
  for (int i = 0; i < runs; ++i) {
    Costs const one = run();
    times.push_back(one.wall_s);
    out.peak_mib = std::max(out.peak_mib, one.peak_mib);
  }
  std::sort(times.begin(), times.end());
  out.wall_s = times[times.size() / 2];
  return out;
}

}  // namespace meltlag::bench
