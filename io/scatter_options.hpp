// What the command line says of scatter.
#pragma once

#include "io/scatter_command.hpp"

#include <boost/program_options.hpp>

namespace tidemark {

void add_scatter_options(boost::program_options::options_description& options);

/// What stands above the options in its help.
const char* scatter_help();

const char* scatter_exit_codes();

/// Puts what was given. Throws InputError.
void read_scatter_options(const boost::program_options::variables_map& values,
                          ScatterOptions& scatter);

} // namespace tidemark
