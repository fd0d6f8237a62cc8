// SPDX-License-Identifier: MIT
#include <fcntl.h>
#include <sys/auxv.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <filesystem>
#include <system_error>

#include "meltlag/base/system.hpp"
#include "temporaries.hpp"

namespace meltlag::system {
namespace {

namespace fs = std::filesystem;

constexpr mode_t usual_mode = 0666, permission_bits = 07777, write_bits = 0222, group_bits = 0070;
constexpr auto ending_signals = std::to_array<int>({SIGINT, SIGTERM, SIGHUP});
constexpr std::int64_t ns_per_s = 1'000'000'000;

static_assert(std::atomic<int>::is_always_lock_free);
Temporaries temporaries;  // a signal handler can reach nothing else

extern "C" void remove_and_end(int signal) {
  temporaries.each([](char const* name) { ::unlink(name); });
  std::signal(signal, SIG_DFL);
  std::raise(signal);  // so that whoever waits learns why the program ended
}

mode_t new_file_mode() {
  mode_t const mask = umask(0);
  umask(mask);
  return usual_mode & ~mask;
}

// A crash of the machine right after a rename could bring the old name back.
void sync_folder_of(std::string const& path) {
  fs::path const folder = fs::path(path).parent_path();
  int const descriptor = ::open(folder.empty() ? "." : folder.c_str(), O_RDONLY | O_DIRECTORY);
  if (descriptor < 0) return;
  ::fsync(descriptor);
  ::close(descriptor);
}

// Some disks know no owners and permissions (memory cards in the printers' format).
bool is_refusal(int error) {
  return error == EPERM || error == EINVAL || error == ENOSYS || error == ENOTSUP;
}

bool set_mode(int descriptor, mode_t mode) {
  return ::fchmod(descriptor, mode) == 0 || is_refusal(errno);
}

// While this lives, no signal can come between making a file and noting its name.
class SignalsHeld {
 public:
  SignalsHeld() {
    sigset_t ending;
    sigemptyset(&ending);
    for (int const signal : ending_signals) sigaddset(&ending, signal);
    sigprocmask(SIG_BLOCK, &ending, &before_);
  }
  ~SignalsHeld() {
    int const kept = errno;
    sigprocmask(SIG_SETMASK, &before_, nullptr);
    errno = kept;
  }
  SignalsHeld(SignalsHeld const&) = delete;
  SignalsHeld& operator=(SignalsHeld const&) = delete;

 private:
  sigset_t before_{};
};

}  // namespace

std::string cause() { return std::generic_category().message(errno); }

int make_temporary(std::string const& beside, std::string& path) {
  // A short name of its own: the target's may be as long as names can be.
  path = (fs::path(beside).parent_path() / ".meltlag-XXXXXX").string();
  SignalsHeld const held;
  int const descriptor = ::mkostemp(path.data(), O_CLOEXEC);
  if (descriptor >= 0) temporaries.add(path);
  return descriptor;
}

void remove_temporary(std::string const& path) {
  ::unlink(path.c_str());
  temporaries.drop(path);
}

void forget_temporary(std::string const& path) { temporaries.drop(path); }

std::string temporary_folder() {
  std::error_code failed;
  fs::path const folder = fs::temp_directory_path(failed);
  return failed ? "/tmp" : folder.string();
}

bool write_all(int descriptor, std::string_view text) {
  while (!text.empty()) {
    ssize_t const n = ::write(descriptor, text.data(), text.size());
    if (n < 0 && errno == EINTR) continue;
    if (n == 0) errno = ENOSPC;  // else this would go on for ever
    if (n <= 0) return false;
    text.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

std::ptrdiff_t read_some(int descriptor, char* buffer, std::size_t size) {
  ssize_t n = 0;
  do {
    n = ::read(descriptor, buffer, size);
  } while (n < 0 && errno == EINTR);
  return n;
}

bool rewind_file(int descriptor) { return ::lseek(descriptor, 0, SEEK_SET) == 0; }

bool empty_file(int descriptor) {
  return ::ftruncate(descriptor, 0) == 0 && rewind_file(descriptor);
}

bool sync(int descriptor) {
  int result = 0;
  do {
    result = ::fsync(descriptor);
  } while (result != 0 && errno == EINTR);
  return result == 0 || errno == EINVAL || errno == ENOTSUP;
}

// After EINTR the descriptor is closed all the same.
bool close_file(int descriptor) { return ::close(descriptor) == 0 || errno == EINTR; }

int open_existing(std::string const& path) { return ::open(path.c_str(), O_WRONLY | O_CLOEXEC); }

int why_not_writable(std::string const& path) {
  if (::access(path.c_str(), W_OK) != 0) return errno;
  struct stat status {};
  if (::stat(path.c_str(), &status) != 0) return errno;
  return (status.st_mode & write_bits) == 0 ? EACCES : 0;
}

bool take_permissions(int descriptor, std::string const& model) {
  struct stat old {};
  if (::stat(model.c_str(), &old) != 0) return set_mode(descriptor, new_file_mode());
  mode_t mode = old.st_mode & permission_bits;
  // Only root may give a file away. The owner first: changing it takes bits away.
  if (::fchown(descriptor, old.st_uid, old.st_gid) != 0) {
    if (!is_refusal(errno)) return false;
    // Where the group cannot be kept either, another group must not get its rights.
    if (::fchown(descriptor, static_cast<uid_t>(-1), old.st_gid) != 0) mode &= ~group_bits;
  }
  return set_mode(descriptor, mode);
}

bool rename_file(std::string const& from, std::string const& to, Replace replace) {
  if (replace == Replace::existing) {
    if (std::rename(from.c_str(), to.c_str()) != 0) return false;
  } else if (::link(from.c_str(), to.c_str()) == 0) {
    ::unlink(from.c_str());
  } else if (errno == EEXIST) {
    return false;
  } else if (::access(to.c_str(), F_OK) == 0) {  // a disk without hard links: nearly as good
    errno = EEXIST;
    return false;
  } else if (std::rename(from.c_str(), to.c_str()) != 0) {
    return false;
  }
  sync_folder_of(to);
  return true;
}

std::optional<FileIdentity> identity_of(std::string const& path) {
  struct stat status {};
  if (::stat(path.c_str(), &status) != 0 || !S_ISREG(status.st_mode)) return {};
  return FileIdentity{.device = static_cast<std::uint64_t>(status.st_dev),
                      .number = static_cast<std::uint64_t>(status.st_ino),
                      .bytes = static_cast<std::uint64_t>(status.st_size),
                      .changed_ns = status.st_mtim.tv_sec * ns_per_s + status.st_mtim.tv_nsec};
}

std::FILE* open_for_reading(std::string const& path) { return std::fopen(path.c_str(), "rbe"); }

void set_up_process() {
  std::signal(SIGPIPE, SIG_IGN);
  for (int const signal : ending_signals) {
    // Whoever started the program may want it to live on, as nohup does.
    if (std::signal(signal, remove_and_end) == SIG_IGN) std::signal(signal, SIG_IGN);
  }
}

std::vector<std::string> arguments(int count, char** words) { return {words, words + count}; }

std::string program_path() {
  std::error_code failed;
  fs::path const path = fs::read_symlink("/proc/self/exe", failed);
  if (!failed) return path.string();
  // Where /proc is not there, as in a bare root, the kernel says what it was asked to run.
  // NOLINTNEXTLINE(performance-no-int-to-ptr): this is how the kernel hands it over
  auto const* const asked = reinterpret_cast<char const*>(::getauxval(AT_EXECFN));
  return asked != nullptr ? fs::weakly_canonical(asked, failed).string() : std::string{};
}

// Terminals here are opened by people or by programs that keep them.
bool has_own_console() { return false; }
void wait_for_key() { static_cast<void>(std::getchar()); }

bool stdout_is_terminal() { return ::isatty(STDOUT_FILENO) != 0; }
bool stderr_is_terminal() { return ::isatty(STDERR_FILENO) != 0; }

}  // namespace meltlag::system
