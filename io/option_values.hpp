// Values of options on the command line.
#pragma once

#include <string>

namespace tidemark {

/// A whole number within limits. Throws InputError (OPTION: found ..., expected ...).
int whole_number(const std::string& option, const std::string& text, int lowest, int highest);

} // namespace tidemark
