// The words of the command compare.
#pragma once

#include "io/compare_command.hpp"

#include <boost/program_options.hpp>

namespace tidemark {

void add_compare_options(boost::program_options::options_description& options);

/// The help but for options and exit codes.
const char* compare_help();

} // namespace tidemark
