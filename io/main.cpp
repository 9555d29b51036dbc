#include "io/command_line.hpp"

int main(int argc, char** argv) {
  return tidemark::run_command_line(argc, argv);
}
