// SPDX-License-Identifier: MIT
#include "meltlag/base/system.hpp"

#ifndef NOMINMAX
#define NOMINMAX
#endif
#include <windows.h>
// After windows.h, on which it depends.
#include <conio.h>
#include <fcntl.h>
#include <io.h>
#include <shellapi.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <filesystem>
#include <system_error>

#include "temporaries.hpp"

namespace meltlag::system {
namespace {

namespace fs = std::filesystem;

Temporaries temporaries;

// The console calls this on a thread of its own. What is still open cannot be removed, so the file
// is opened to be deleted with its last handle.
BOOL WINAPI remove_and_end(DWORD) {
  temporaries.each([](char const* name) {
    std::error_code ignored;
    fs::remove(path_of(name), ignored);
  });
  return FALSE;  // and on to the usual end
}

int errno_of(DWORD error) {
  return std::system_category().default_error_condition(static_cast<int>(error)).value();
}

}  // namespace

std::string cause() { return std::generic_category().message(errno); }

int make_temporary(std::string const& beside, std::string& path) {
  constexpr int tries = 1000;
  unsigned number = GetCurrentProcessId() ^ GetTickCount();
  for (int i = 0; i < tries; ++i, number = number * 1664525U + 1013904223U) {
    path = (path_of(beside).parent_path() / (".meltlag-" + std::to_string(number))).string();
    int const descriptor = ::_wopen(path_of(path).c_str(),
                                    _O_RDWR | _O_CREAT | _O_EXCL | _O_BINARY | _O_NOINHERIT,
                                    _S_IREAD | _S_IWRITE);
    if (descriptor >= 0) temporaries.add(path);
    if (descriptor >= 0 || errno != EEXIST) return descriptor;
  }
  return -1;
}

void remove_temporary(std::string const& path) {
  std::error_code ignored;
  fs::remove(path_of(path), ignored);
  temporaries.drop(path);
}

void forget_temporary(std::string const& path) { temporaries.drop(path); }

std::string temporary_folder() { return fs::temp_directory_path().string(); }

bool write_all(int descriptor, std::string_view text) {
  constexpr std::size_t most = 1 << 20;
  while (!text.empty()) {
    int const n =
        ::_write(descriptor, text.data(), static_cast<unsigned>(std::min(most, text.size())));
    if (n == 0) errno = ENOSPC;
    if (n <= 0) return false;
    text.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

std::ptrdiff_t read_some(int descriptor, char* buffer, std::size_t size) {
  return ::_read(descriptor, buffer, static_cast<unsigned>(size));
}

bool rewind_file(int descriptor) { return ::_lseeki64(descriptor, 0, SEEK_SET) == 0; }
bool empty_file(int descriptor) {
  return ::_chsize_s(descriptor, 0) == 0 && rewind_file(descriptor);
}
bool sync(int descriptor) { return ::_commit(descriptor) == 0 || errno == EBADF; }
bool close_file(int descriptor) { return ::_close(descriptor) == 0; }

int open_existing(std::string const& path) {
  return ::_wopen(path_of(path).c_str(), _O_WRONLY | _O_BINARY | _O_NOINHERIT);
}

int why_not_writable(std::string const& path) {
  constexpr int may_write = 2;
  return ::_waccess(path_of(path).c_str(), may_write) == 0 ? 0 : errno;
}

// The folder hands its access list down to what is made in it; there are no permission bits.
bool take_permissions(int, std::string const&) { return true; }

bool rename_file(std::string const& from, std::string const& to, Replace replace) {
  DWORD const how = replace == Replace::existing ? MOVEFILE_REPLACE_EXISTING : 0;
  if (MoveFileExW(path_of(from).c_str(), path_of(to).c_str(), how | MOVEFILE_WRITE_THROUGH) != 0)
    return true;
  errno = errno_of(GetLastError());
  return false;
}

std::optional<FileIdentity> identity_of(std::string const& path) {
  std::error_code failed;
  fs::path const file = path_of(path);
  if (!fs::is_regular_file(file, failed)) return {};
  return FileIdentity{.bytes = fs::file_size(file, failed),
                      .changed_ns = fs::last_write_time(file, failed).time_since_epoch().count()};
}

std::FILE* open_for_reading(std::string const& path) {
  return ::_wfopen(path_of(path).c_str(), L"rb");
}

void set_up_process() {
  for (std::FILE* const stream : {stdin, stdout}) ::_setmode(::_fileno(stream), _O_BINARY);
  SetConsoleOutputCP(CP_UTF8);
  SetConsoleCtrlHandler(&remove_and_end, TRUE);
}

std::vector<std::string> arguments(int, char**) {
  int count = 0;
  wchar_t** const words = CommandLineToArgvW(GetCommandLineW(), &count);
  std::vector<std::string> out;
  for (int i = 0; i < count; ++i) out.push_back(fs::path(words[i]).string());
  LocalFree(words);
  return out;
}

std::string program_path() {
  std::wstring path(32768, L'\0');
  path.resize(GetModuleFileNameW(nullptr, path.data(), static_cast<DWORD>(path.size())));
  return fs::path(path).string();
}

// Started from a shell the shell is in the list too, without a console the list is empty.
bool has_own_console() {
  std::array<DWORD, 2> processes{};
  return GetConsoleProcessList(processes.data(), static_cast<DWORD>(processes.size())) == 1;
}

void wait_for_key() { static_cast<void>(::_getwch()); }

bool stdout_is_terminal() { return ::_isatty(::_fileno(stdout)) != 0; }
bool stderr_is_terminal() { return ::_isatty(::_fileno(stderr)) != 0; }

}  // namespace meltlag::system
