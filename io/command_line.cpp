#include "io/command_line.hpp"

namespace tidemark {

int run_command_line(int, char**) {
  return 2;
}

} // namespace tidemark
