// SPDX-License-Identifier: MIT
// The same target over files, for compilers without a fuzzing engine: replays what was found.
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "target.hpp"

int main(int count, char** words) {
  namespace fs = std::filesystem;
  std::vector<fs::path> files;
  for (int i = 1; i < count; ++i) {
    if (!fs::is_directory(words[i])) {
      files.emplace_back(words[i]);
      continue;
    }
    for (auto const& entry : fs::recursive_directory_iterator(words[i]))
      if (entry.is_regular_file()) files.push_back(entry.path());
  }
  for (fs::path const& file : files) {
    std::ifstream in(file, std::ios::binary);
    std::string const bytes{std::istreambuf_iterator<char>(in), {}};
    std::cout << file.string() << " (" << bytes.size() << " bytes)" << std::endl;
    meltlag::fuzz::try_and_catch(bytes);
  }
  return files.empty() ? 1 : 0;
}
