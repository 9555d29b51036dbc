// Options and help of the command window.
#pragma once

#include "io/window_command.hpp"

#include <boost/program_options.hpp>

namespace tidemark {

void add_window_options(boost::program_options::options_description& options);

/// The options that only window has. Throws InputError.
WindowOptions read_window_options(const boost::program_options::variables_map& values);

const char* window_help();

} // namespace tidemark
