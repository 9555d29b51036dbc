// The words of the command vents.
#pragma once

#include "io/vents_command.hpp"

#include <boost/program_options.hpp>

namespace tidemark {

void add_vents_options(boost::program_options::options_description& options);

/// The help but for options and exit codes.
const char* vents_help();

/// Puts what was given. Throws InputError.
void read_vents_options(const boost::program_options::variables_map& values, VentsOptions& vents);

} // namespace tidemark
