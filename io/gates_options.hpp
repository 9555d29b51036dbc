// The words of the command gates.
#pragma once

#include "io/gates_command.hpp"

#include <boost/program_options.hpp>

namespace tidemark {

void add_gates_options(boost::program_options::options_description& options);

/// The help but for options and exit codes.
const char* gates_help();

/// Puts what was given. Throws InputError.
void read_gates_options(const boost::program_options::variables_map& values, GatesOptions& gates);

} // namespace tidemark
