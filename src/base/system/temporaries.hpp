// SPDX-License-Identifier: MIT
// Names of temporary files where a signal handler may read them: no locks, no allocation.
#pragma once

#include <array>
#include <atomic>
#include <cstddef>
#include <string>

namespace meltlag::system {

// A fixed number of names; a name that finds no place is not removed by signals, no more.
class Temporaries {
 public:
  void add(std::string const& path) {
    if (path.size() >= longest) return;
    for (Slot& slot : slots_) {
      State expected = State::free;
      if (!slot.state.compare_exchange_strong(expected, State::changing)) continue;
      path.copy(slot.name.data(), path.size());
      slot.name[path.size()] = '\0';
      slot.state = State::used;
      return;
    }
  }

  void drop(std::string const& path) {
    for (Slot& slot : slots_) {
      State expected = State::used;
      if (path != slot.name.data()) continue;
      if (slot.state.compare_exchange_strong(expected, State::free)) return;
    }
  }

  // Safe inside a signal handler as long as `remove` is.
  template <class Remove>
  void each(Remove const& remove) const {
    for (Slot const& slot : slots_)
      if (slot.state == State::used) remove(slot.name.data());
  }

 private:
  enum class State { free, changing, used };
  static constexpr std::size_t longest = 4096, most = 16;
  struct Slot {
    std::atomic<State> state{State::free};
    std::array<char, longest> name{};
  };
  std::array<Slot, most> slots_;
};

}  // namespace meltlag::system
