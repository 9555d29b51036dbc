// The commands, their options and exit codes.
#pragma once

namespace tidemark {

/// Runs one command. Returns the exit code: 0 done and the part fills; 1 done and it does not;
/// 2 the input is wrong; 3 the numerics failed; 4 files could not be read or written.
int run_command_line(int argc, char** argv);

} // namespace tidemark
