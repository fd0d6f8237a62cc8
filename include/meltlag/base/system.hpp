// SPDX-License-Identifier: MIT
// Everything that only one operating system has: src/base/system/ holds one file for each. Paths
// and arguments are UTF-8. Where a call can fail it says so by its result and leaves errno set.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace meltlag::system {

// A path from UTF-8: std::filesystem would take its text for that of the system's own narrow
// characters, which are not UTF-8 everywhere.
[[nodiscard]] inline std::filesystem::path path_of(std::string_view utf8) {
  auto const* const text = reinterpret_cast<char8_t const*>(utf8.data());
  return {text, text + utf8.size()};
}

// The message that belongs to errno.
[[nodiscard]] std::string cause();

// ---- files that appear whole or not at all ----

// A descriptor of a new, empty file that only we may read, in the folder of `beside`; −1 where it
// cannot be made. `path` becomes its name. It is removed if a signal ends the program, until
// forget_temporary() is called.
[[nodiscard]] int make_temporary(std::string const& beside, std::string& path);
void remove_temporary(std::string const& path);
void forget_temporary(std::string const& path);
// The folder for files that are put away for a moment.
[[nodiscard]] std::string temporary_folder();

[[nodiscard]] bool write_all(int descriptor, std::string_view text);
// Bytes read, 0 at the end, −1 where it fails.
[[nodiscard]] std::ptrdiff_t read_some(int descriptor, char* buffer, std::size_t size);
[[nodiscard]] bool rewind_file(int descriptor);
[[nodiscard]] bool empty_file(int descriptor);
// Until the disk has it; true also where the kind of file knows no such thing.
[[nodiscard]] bool sync(int descriptor);
[[nodiscard]] bool close_file(int descriptor);
// A descriptor for writing into what is there already (a device, a pipe); −1 where it fails.
[[nodiscard]] int open_existing(std::string const& path);
inline constexpr int standard_output = 1;

// Why an existing file may not be written, as an errno; 0 where it may. A file that nobody may
// write is refused even to those whom the system would let.
[[nodiscard]] int why_not_writable(std::string const& path);
// Gives the file after `descriptor` owner, group and permissions of `model`, as far as the system
// lets us; where there is no such file, the permissions of any new one.
[[nodiscard]] bool take_permissions(int descriptor, std::string const& model);

enum class Replace : std::uint8_t { existing, never };
// Renames in one step, for good: `to` is the old file or the new one, whatever happens. Fails with
// EEXIST where nothing may be replaced and `to` is there.
[[nodiscard]] bool rename_file(std::string const& from, std::string const& to, Replace replace);

// What shows whether a file was changed or replaced meanwhile.
struct FileIdentity {
  std::uint64_t device = 0, number = 0, bytes = 0;
  std::int64_t changed_ns = 0;
  friend bool operator==(FileIdentity const&, FileIdentity const&) = default;
};
// Nothing where `path` is no regular file.
[[nodiscard]] std::optional<FileIdentity> identity_of(std::string const& path);

// Null where it cannot be opened.
[[nodiscard]] std::FILE* open_for_reading(std::string const& path);

// ---- the process ----

// Standard streams carry bytes as they are; a pipe closed by its reader is an error of write(), no
// signal; signals that ask the program to end remove temporary files first.
void set_up_process();
[[nodiscard]] std::vector<std::string> arguments(int count, char** words);
// Where the running program lies; empty where the system does not say.
[[nodiscard]] std::string program_path();
// Whether the program has a console to itself, which closes with it: a double click on its file
// does that.
[[nodiscard]] bool has_own_console();
// Returns once a key was pressed in the console.
void wait_for_key();
[[nodiscard]] bool stdout_is_terminal();
[[nodiscard]] bool stderr_is_terminal();

}  // namespace meltlag::system
