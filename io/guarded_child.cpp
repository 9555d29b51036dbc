#include "io/guarded_child.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdint>
#include <cstring>
#include <fcntl.h>
#include <limits>
#include <new>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#if defined(__SANITIZE_ADDRESS__)
#define TIDEMARK_ADDRESS_SANITIZER
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define TIDEMARK_ADDRESS_SANITIZER
#endif
#endif

namespace tidemark {

namespace {

constexpr int exit_out_of_memory = 12;
constexpr int exit_thrown = 13;

[[noreturn]] void fail(const char* what) {
  throw FileError(std::string(what) + ": " + std::strerror(errno));
}

void set_limit(int resource, rlim_t value) {
  const rlimit limit{value, value};
  setrlimit(static_cast<__rlimit_resource>(resource), &limit);
}

void set_limits([[maybe_unused]] const ChildLimits& limits) {
  set_limit(RLIMIT_CORE, 0);
  // Past the soft limit comes SIGXCPU, a second later SIGKILL.
  const rlimit time{limits.cpu_seconds, limits.cpu_seconds + 1};
  setrlimit(RLIMIT_CPU, &time);
#ifndef TIDEMARK_ADDRESS_SANITIZER
  set_limit(RLIMIT_AS, limits.address_space);
#endif
}

void silence() {
  const int nowhere = open("/dev/null", O_WRONLY);
  if (nowhere >= 0) {
    dup2(nowhere, STDOUT_FILENO);
    dup2(nowhere, STDERR_FILENO);
  }
}

bool write_all(int pipe_end, const char* data, std::size_t size) {
  while (size > 0) {
    const ssize_t written = write(pipe_end, data, size);
    if (written < 0 && errno != EINTR) {
      return false;
    }
    const auto advance = written < 0 ? std::size_t{0} : static_cast<std::size_t>(written);
    data += advance;
    size -= advance;
  }
  return true;
}

/// The child ends with its parent, and has none of what the parent has open but this pipe and the
/// standard streams: the lock of a folder would outlast a run that is killed.
void belong_to(pid_t parent, int pipe_end) {
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  if (getppid() != parent) { // it ended before
    _exit(exit_thrown);
  }
  const auto kept = static_cast<unsigned>(pipe_end);
  const auto first = static_cast<unsigned>(STDERR_FILENO) + 1;
  if (kept > first) {
    close_range(first, kept - 1, 0);
  }
  close_range(std::max(first, kept + 1), std::numeric_limits<unsigned>::max(), 0);
}

// Leaves without destructors or exit handlers: those belong to the parent.
[[noreturn]] void child_main(int pipe_end, const std::function<std::string()>& work,
                             const ChildLimits& limits) {
  silence();
  set_limits(limits);
  // A handler of the parent's for broken programs has no business here.
  for (const int signal : {SIGSEGV, SIGABRT, SIGBUS, SIGFPE, SIGILL, SIGXCPU}) {
    std::signal(signal, SIG_DFL);
  }
  try {
    const std::string output = work();
    _exit(write_all(pipe_end, output.data(), output.size()) ? 0 : exit_thrown);
  } catch (const std::bad_alloc&) {
    _exit(exit_out_of_memory);
  } catch (...) {
    _exit(exit_thrown);
  }
}

std::string read_all(int pipe_end) {
  std::string output;
  std::array<char, 1 << 16> buffer;
  while (true) {
    const ssize_t count = read(pipe_end, buffer.data(), buffer.size());
    if (count == 0 || (count < 0 && errno != EINTR)) {
      return output;
    }
    output.append(buffer.data(), count < 0 ? std::size_t{0} : static_cast<std::size_t>(count));
  }
}

ChildEnd wait_for(pid_t child) {
  int status = 0;
  while (waitpid(child, &status, 0) < 0) {
    if (errno != EINTR) {
      return ChildEnd::crashed;
    }
  }
  if (WIFSIGNALED(status)) {
    return WTERMSIG(status) == SIGXCPU ? ChildEnd::out_of_time : ChildEnd::crashed;
  }
  switch (WEXITSTATUS(status)) {
  case 0:
    return ChildEnd::finished;
  case exit_out_of_memory:
    return ChildEnd::out_of_memory;
  default:
    return ChildEnd::crashed;
  }
}

} // namespace

ChildOutcome run_in_child(const std::function<std::string()>& work, const ChildLimits& limits) {
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0) {
    fail("no pipe to a child process");
  }
  const pid_t parent = getpid();
  const pid_t child = fork();
  if (child < 0) {
    const int error = errno;
    close(ends[0]);
    close(ends[1]);
    errno = error;
    fail("no child process");
  }
  if (child == 0) {
    belong_to(parent, ends[1]);
    child_main(ends[1], work, limits);
  }
  close(ends[1]);
  std::string output = read_all(ends[0]);
  close(ends[0]);
  const ChildEnd end = wait_for(child);
  return {end, end == ChildEnd::finished ? std::move(output) : std::string()};
}

} // namespace tidemark
