// SPDX-License-Identifier: MIT
// Whole passes over one file at several prices of time, with their texts: the one that is chosen
// need not be made again.
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

  // Appends the text of the pass at this price; false where none was made.
  bool write(double price_mm3_per_s, OutputFile& out, AdaptInfo& info);

 private:
  struct Kept {
    explicit Kept(double price) : price_mm3_per_s(price) {}
    double price_mm3_per_s;
    AdaptInfo info;
    OutputFile text{"-"};  // a temporary file that is never sent on
  };

  std::string path_;
  PassOptions options_;
  Notices& notices_;
  std::mutex mutex_;
  std::list<Kept> kept_;
};

}  // namespace meltlag::adapt
