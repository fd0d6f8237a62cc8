// SPDX-License-Identifier: MIT
// A library to be preloaded: it makes one system call of the write path go wrong.
//   MELTLAG_FAULT=CALL:NUMBER:HOW   the NUMBERth CALL fails with the errno HOW, or HOW is "short"
//                                   (half is written), "kill", "term" or "int" (a signal instead)
//   MELTLAG_CALLS=FILE              each call of the write path is written to FILE, one a line
// Counted are calls on descriptors that were opened for writing, and calls that change names.
#include <dlfcn.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace {

constexpr int most_descriptors = 1024;
std::array<bool, most_descriptors> written_to{};

struct Fault {
  char call[32] = "";
  int number = 0;
  char how[32] = "";
};

Fault read_fault() {
  Fault fault;
  char const* const text = std::getenv("MELTLAG_FAULT");
  if (text != nullptr) std::sscanf(text, "%31[^:]:%d:%31s", fault.call, &fault.number, fault.how);
  return fault;
}

template <class Function>
Function* real(char const* name) {
  return reinterpret_cast<Function*>(dlsym(RTLD_NEXT, name));
}

void log_call(char const* call) {
  static char const* const path = std::getenv("MELTLAG_CALLS");
  if (path == nullptr) return;
  int const log =
      real<int(char const*, int, ...)>("open")(path, O_WRONLY | O_APPEND | O_CREAT, 0600);
  char line[40];
  int const size = std::snprintf(line, sizeof line, "%s\n", call);
  real<ssize_t(int, void const*, size_t)>("write")(log, line, static_cast<size_t>(size));
  real<int(int)>("close")(log);
}

enum class Turn { go_on, fail, halve };

// Whether this call is the one to go wrong; errno is set where it shall fail.
Turn turn_of(char const* call) {
  static Fault const fault = read_fault();
  static int seen = 0;
  log_call(call);
  if (std::strcmp(call, fault.call) != 0 || ++seen != fault.number) return Turn::go_on;
  if (std::strcmp(fault.how, "short") == 0) return Turn::halve;
  if (std::strcmp(fault.how, "kill") == 0) raise(SIGKILL);
  if (std::strcmp(fault.how, "term") == 0) raise(SIGTERM);
  if (std::strcmp(fault.how, "int") == 0) raise(SIGINT);
  errno = std::atoi(fault.how);
  return errno != 0 ? Turn::fail : Turn::go_on;
}

bool fails(char const* call) { return turn_of(call) == Turn::fail; }

bool is_ours(int descriptor) {
  return descriptor >= 0 && descriptor < most_descriptors &&
         (descriptor == STDOUT_FILENO || written_to[static_cast<std::size_t>(descriptor)]);
}

int remember(int descriptor) {
  if (descriptor >= 0 && descriptor < most_descriptors)
    written_to[static_cast<std::size_t>(descriptor)] = true;
  return descriptor;
}

int open_either(char const* name, char const* path, int flags, mode_t mode) {
  bool const writes = (flags & O_ACCMODE) != O_RDONLY;
  bool const folder = (flags & O_DIRECTORY) != 0;
  if (writes && fails("open")) return -1;
  if (folder && fails("open_folder")) return -1;
  int const descriptor = real<int(char const*, int, ...)>(name)(path, flags, mode);
  return writes ? remember(descriptor) : descriptor;
}

}  // namespace

extern "C" {

int open(char const* path, int flags, ...) {
  va_list rest;
  va_start(rest, flags);
  mode_t const mode = (flags & O_CREAT) != 0 ? va_arg(rest, mode_t) : 0;
  va_end(rest);
  return open_either("open", path, flags, mode);
}

int open64(char const* path, int flags, ...) {
  va_list rest;
  va_start(rest, flags);
  mode_t const mode = (flags & O_CREAT) != 0 ? va_arg(rest, mode_t) : 0;
  va_end(rest);
  return open_either("open64", path, flags, mode);
}

std::FILE* fopen(char const* path, char const* mode) {
  bool const writes = mode[0] != 'r';
  if (writes && fails("open")) return nullptr;
  std::FILE* const file = real<std::FILE*(char const*, char const*)>("fopen")(path, mode);
  if (writes && file != nullptr) remember(fileno(file));
  return file;
}

std::FILE* fopen64(char const* path, char const* mode) { return fopen(path, mode); }

int mkostemp(char* path, int flags) {
  if (fails("mkostemp")) return -1;
  return remember(real<int(char*, int)>("mkostemp")(path, flags));
}

int mkostemp64(char* path, int flags) { return mkostemp(path, flags); }

ssize_t write(int descriptor, void const* bytes, size_t size) {
  auto* const go_on = real<ssize_t(int, void const*, size_t)>("write");
  if (!is_ours(descriptor)) return go_on(descriptor, bytes, size);
  Turn const turn = turn_of("write");
  if (turn == Turn::fail) return -1;
  return go_on(descriptor, bytes, turn == Turn::halve ? (size + 1) / 2 : size);
}

ssize_t writev(int descriptor, iovec const* parts, int count) {
  if (is_ours(descriptor) && fails("write")) return -1;
  return real<ssize_t(int, iovec const*, int)>("writev")(descriptor, parts, count);
}

ssize_t read(int descriptor, void* bytes, size_t size) {
  if (is_ours(descriptor) && fails("read")) return -1;
  return real<ssize_t(int, void*, size_t)>("read")(descriptor, bytes, size);
}

int fsync(int descriptor) {
  if (fails(is_ours(descriptor) ? "fsync" : "fsync_folder")) return -1;
  return real<int(int)>("fsync")(descriptor);
}

int ftruncate(int descriptor, off_t size) noexcept {
  if (fails("ftruncate")) return -1;
  return real<int(int, off_t)>("ftruncate")(descriptor, size);
}

off_t lseek(int descriptor, off_t offset, int from) noexcept {
  if (is_ours(descriptor) && fails("lseek")) return -1;
  return real<off_t(int, off_t, int)>("lseek")(descriptor, offset, from);
}

int fchmod(int descriptor, mode_t mode) noexcept {
  if (fails("fchmod")) return -1;
  return real<int(int, mode_t)>("fchmod")(descriptor, mode);
}

int fchown(int descriptor, uid_t user, gid_t group) noexcept {
  if (fails("fchown")) return -1;
  return real<int(int, uid_t, gid_t)>("fchown")(descriptor, user, group);
}

int close(int descriptor) {
  auto* const go_on = real<int(int)>("close");
  if (!is_ours(descriptor)) return go_on(descriptor);
  bool const wrong = fails("close");
  int const why = errno;
  written_to[static_cast<std::size_t>(descriptor)] = false;
  int const result = go_on(descriptor);  // a failing close frees the descriptor all the same
  if (!wrong) return result;
  errno = why;
  return -1;
}

int rename(char const* from, char const* to) noexcept {
  if (fails("rename")) return -1;
  return real<int(char const*, char const*)>("rename")(from, to);
}

int link(char const* from, char const* to) noexcept {
  if (fails("link")) return -1;
  return real<int(char const*, char const*)>("link")(from, to);
}

}  // extern "C"
