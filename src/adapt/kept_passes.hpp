// SPDX-License-Identifier: MIT
// Whole passes over one file at several prices of time, with the texts of the last of them: the one
// that is chosen is seldom older, and need not be made again then.
#pragma once

#include <list>
#include <mutex>
#include <string>

#include "meltlag/adapt/pass.hpp"
#include "meltlag/base/output_file.hpp"

namespace meltlag::adapt {

class KeptPasses {
 public:
  // What there is to note of the file goes to `notices` in the first pass. Texts are kept where
  // temporary files go.
  KeptPasses(std::string path, PassOptions options, Notices& notices)
      : path_(std::move(path)), options_(std::move(options)), notices_(notices) {}

  // A pass; may be called from two threads at once.
  AdaptInfo operator()(double price_mm3_per_s);

  // Appends the text of the pass at this price; false where none is kept.
  bool write(double price_mm3_per_s, OutputFile& out, AdaptInfo& info);

 private:
  static constexpr std::size_t most_kept = 4;  // each as large as what is written in the end

  struct Kept {
    double price_mm3_per_s = 0;
    AdaptInfo info;
    OutputFile text{"-"};  // a temporary file that is never sent on
  };

  std::string path_;
  PassOptions options_;
  Notices& notices_;
  std::mutex mutex_;
  bool noted_ = false;
  std::list<Kept> kept_;
};

}  // namespace meltlag::adapt
