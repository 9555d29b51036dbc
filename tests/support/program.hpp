// Runs the program as a user does.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace tidemark {

struct ProgramOutput {
  int exit_code; // -1: ended by a signal
  std::string out;
  std::string err;
};

/// A program running in a folder, its output going to files there.
class Program {
public:
  Program(const std::filesystem::path& folder, const std::vector<std::string>& arguments);
  void send(int signal) const;
  ProgramOutput wait() const;

private:
  std::filesystem::path folder_;
  int process_;
};

/// Runs the program in a folder with arguments and waits for its end.
ProgramOutput run_program(const std::filesystem::path& folder,
                          const std::vector<std::string>& arguments);

} // namespace tidemark
