// Numbers in files.
#pragma once

#include <string>

namespace tidemark {

/// The shortest decimal text that reads back as the same number, whatever the locale.
std::string number_text(double value);

} // namespace tidemark
