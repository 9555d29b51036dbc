// Values of options on the command line.
#pragma once

#include "io/quantity.hpp"

#include <string>

namespace tidemark {

/// A whole number within limits. Throws InputError (OPTION: found ..., expected ...).
int whole_number(const std::string& option, const std::string& text, int lowest, int highest);

/// A quantity with its unit. Throws InputError as above.
double quantity_of_option(const std::string& option, const std::string& text, Dimension dimension);

} // namespace tidemark
