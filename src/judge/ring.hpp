// SPDX-License-Identifier: MIT
#pragma once

#include <cassert>
#include <cstddef>
#include <utility>
#include <vector>

namespace meltlag::judge {

// A queue that keeps its memory: nothing is allocated once it is as long as it ever gets.
template <class T>
class Ring {
 public:
  [[nodiscard]] bool empty() const { return size_ == 0; }
  [[nodiscard]] std::size_t size() const { return size_; }
  [[nodiscard]] T& operator[](std::size_t i) {
    assert(i < size_);
    return items_[(first_ + i) & (items_.size() - 1)];
  }
  [[nodiscard]] T& front() { return (*this)[0]; }
  [[nodiscard]] T& back() { return (*this)[size_ - 1]; }

  // The item holds what was left there: assign all of it.
  T& push() {
    if (size_ == items_.size()) grow();
    ++size_;
    return back();
  }
  void push(T const& item) { push() = item; }
  void pop() {
    assert(size_ > 0);
    first_ = (first_ + 1) & (items_.size() - 1);
    --size_;
  }
  void clear() { size_ = 0; }

 private:
  void grow() {
    std::vector<T> more(items_.empty() ? 16 : 2 * items_.size());
    for (std::size_t i = 0; i < size_; ++i) more[i] = std::move((*this)[i]);
    items_ = std::move(more);
    first_ = 0;
  }

  std::vector<T> items_;  // a power of two long
  std::size_t first_ = 0, size_ = 0;
};

}  // namespace meltlag::judge
