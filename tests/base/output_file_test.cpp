// SPDX-License-Identifier: MIT
#include "meltlag/base/output_file.hpp"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <set>

#include "meltlag/base/error.hpp"
#include "support/text_file.hpp"

using namespace meltlag;
using namespace meltlag::testing;
namespace fs = std::filesystem;

namespace {

// A folder of its own, gone at the end.
struct Folder {
  fs::path path;
  Folder() {
    static int count = 0;
    path = fs::temp_directory_path() /
           ("meltlag-output-" + std::to_string(::getpid()) + "-" + std::to_string(++count));
    fs::create_directory(path);
  }
  ~Folder() { fs::remove_all(path); }
  Folder(Folder const&) = delete;
  Folder& operator=(Folder const&) = delete;
  [[nodiscard]] std::string at(std::string const& name) const { return (path / name).string(); }
  [[nodiscard]] std::string with(std::string const& name, std::string_view text) const {
    std::ofstream(at(name), std::ios::binary) << text;
    return at(name);
  }
  [[nodiscard]] std::set<std::string> names() const {
    std::set<std::string> out;
    for (auto const& entry : fs::directory_iterator(path)) out.insert(entry.path().filename());
    return out;
  }
};

mode_t mode_of(std::string const& path) {
  struct stat status {};
  REQUIRE(::stat(path.c_str(), &status) == 0);
  return status.st_mode & 07777;
}

// Temporary files that stand in the folder for those of devices.
std::set<std::string> waiting() {
  std::set<std::string> out;
  for (auto const& entry : fs::directory_iterator(fs::temp_directory_path())) {
    std::string const name = entry.path().filename();
    if (name.starts_with("meltlag.")) out.insert(name);
  }
  return out;
}

}  // namespace

TEST_SUITE("base") {
  TEST_CASE("an output file appears whole at commit and not before") {
    Folder const folder;
    std::string const target = folder.at("foot.gcode");
    OutputFile file(target);
    file.write("G1 X1\n");
    file.write("G1 X2\n");
    file.flush();
    CHECK_FALSE(fs::exists(target));
    CHECK(text_of(file.temporary_path()) == "G1 X1\nG1 X2\n");
    file.commit();
    CHECK(text_of(target) == "G1 X1\nG1 X2\n");
    CHECK(folder.names() == std::set<std::string>{"foot.gcode"});
  }

  TEST_CASE("without commit the target stays as it was and nothing is left over") {
    Folder const folder;
    std::string const target = folder.with("foot.gcode", "as it was\n");
    {
      OutputFile file(target);
      file.write(std::string(100000, 'x'));
      file.flush();
      CHECK(text_of(target) == "as it was\n");
      CHECK(folder.names().size() == 2);
    }
    CHECK(text_of(target) == "as it was\n");
    CHECK(folder.names() == std::set<std::string>{"foot.gcode"});
  }

  TEST_CASE("what was written before a restart is thrown away") {
    Folder const folder;
    std::string const target = folder.at("foot.gcode");
    OutputFile file(target);
    file.write("a long first attempt\n");
    file.restart();
    file.write("short\n");
    file.commit();
    CHECK(text_of(target) == "short\n");
  }

  TEST_CASE("a replaced file keeps its permissions") {
    Folder const folder;
    for (mode_t const mode : {mode_t{0640}, mode_t{0755}, mode_t{0600}}) {
      std::string const target = folder.with("clip.gcode", "old\n");
      REQUIRE(::chmod(target.c_str(), mode) == 0);
      OutputFile file(target);
      file.write("new\n");
      file.commit();
      CHECK(mode_of(target) == mode);
      CHECK(text_of(target) == "new\n");
    }
  }

  TEST_CASE("a new file has the permissions that any new file has") {
    Folder const folder;
    std::string const usual = folder.with("usual", "");
    OutputFile file(folder.at("new.gcode"));
    file.write("new\n");
    file.commit();
    CHECK(mode_of(folder.at("new.gcode")) == mode_of(usual));
  }

  TEST_CASE("a symbolic link stays a link and its target is replaced") {
    Folder const folder;
    std::string const target = folder.with("real.gcode", "old\n"), link = folder.at("link.gcode");
    fs::create_symlink("real.gcode", link);
    OutputFile file(link);
    file.write("new\n");
    file.commit();
    CHECK(fs::is_symlink(link));
    CHECK_FALSE(fs::is_symlink(target));
    CHECK(text_of(target) == "new\n");
    CHECK(folder.names() == std::set<std::string>{"link.gcode", "real.gcode"});
  }

  TEST_CASE("a symbolic link to what is not there yet makes its target") {
    Folder const folder;
    fs::create_symlink("later.gcode", folder.at("link.gcode"));
    OutputFile file(folder.at("link.gcode"));
    file.write("new\n");
    file.commit();
    CHECK(fs::is_symlink(folder.at("link.gcode")));
    CHECK(text_of(folder.at("later.gcode")) == "new\n");
  }

  TEST_CASE("a full device fails with its name and leaves nothing over") {
    if (!fs::exists("/dev/full")) return;
    auto const before = waiting();
    {
      OutputFile file("/dev/full");
      file.write("G1 X1\n");
      file.flush();
      try {
        file.commit();
        FAIL("a full device took the text");
      } catch (Error const& error) {
        CHECK(error.where().file == "/dev/full");
        CHECK_FALSE(error.hint().empty());
      }
    }
    CHECK(waiting() == before);
  }

  TEST_CASE("a folder that is not there is an error that names the file") {
    Folder const folder;
    std::string const target = folder.at("nowhere/foot.gcode");
    try {
      OutputFile const file(target);
      FAIL("a file was made in a folder that is not there");
    } catch (Error const& error) {
      CHECK(error.where().file == target);
    }
    CHECK(folder.names().empty());
  }

  TEST_CASE("one file under two names is the same file") {
    Folder const folder;
    std::string const file = folder.with("a.gcode", "x"), other = folder.with("b.gcode", "x");
    fs::create_symlink("a.gcode", folder.at("link"));
    fs::create_hard_link(file, folder.at("hard"));
    CHECK(same_file(file, folder.at("link")));
    CHECK(same_file(file, folder.at("hard")));
    CHECK_FALSE(same_file(file, other));
    CHECK_FALSE(same_file(file, folder.at("none")));
  }

  TEST_CASE("devices and standard output are not replaced") {
    Folder const folder;
    CHECK(is_replaceable(folder.with("a.gcode", "x")));
    CHECK(is_replaceable(folder.at("none")));
    CHECK_FALSE(is_replaceable("-"));
    CHECK_FALSE(is_replaceable("/dev/null"));
    CHECK_FALSE(is_replaceable(folder.path.string()));
  }
}
