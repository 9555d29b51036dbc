// The commands there are: their words, options and help.
#pragma once

#include <boost/program_options.hpp>

#include <string>
#include <vector>

namespace tidemark {

/// Their names, in the order of the help.
const std::vector<std::string>& command_names();

/// The options of a command. Precondition: there is such a command.
boost::program_options::options_description options_of(const std::string& command);

/// Those of all commands, each once.
boost::program_options::options_description all_options();

/// What the program prints on --help without a command.
std::string general_help();

/// On --help with one.
std::string command_help(const std::string& command);

} // namespace tidemark
