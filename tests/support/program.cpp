#include "tests/support/program.hpp"

#include "tests/support/temporary_folder.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <stdexcept>

namespace tidemark {

namespace {

void send_to_file(int stream, const std::filesystem::path& file) {
  const int target = open(file.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  if (target < 0 || dup2(target, stream) < 0) {
    _exit(127);
  }
}

[[noreturn]] void become_program(const std::filesystem::path& folder,
                                 const std::vector<std::string>& arguments) {
  std::vector<char*> words = {const_cast<char*>(TIDEMARK_PROGRAM)};
  for (const std::string& argument : arguments) {
    words.push_back(const_cast<char*>(argument.c_str()));
  }
  words.push_back(nullptr);
  if (chdir(folder.c_str()) != 0) {
    _exit(127);
  }
  send_to_file(STDOUT_FILENO, folder / "stdout.txt");
  send_to_file(STDERR_FILENO, folder / "stderr.txt");
  execv(TIDEMARK_PROGRAM, words.data());
  _exit(127);
}

} // namespace

Program::Program(const std::filesystem::path& folder, const std::vector<std::string>& arguments)
    : folder_(folder), process_(fork()) {
  if (process_ < 0) {
    throw std::runtime_error("no process");
  }
  if (process_ == 0) {
    become_program(folder, arguments);
  }
}

void Program::send(int signal) const {
  kill(process_, signal);
}

ProgramOutput Program::wait() const {
  int status = 0;
  waitpid(process_, &status, 0);
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, read_file(folder_ / "stdout.txt"),
          read_file(folder_ / "stderr.txt")};
}

ProgramOutput run_program(const std::filesystem::path& folder,
                          const std::vector<std::string>& arguments) {
  return Program(folder, arguments).wait();
}

} // namespace tidemark
