// Numbers as text, without a unit.
#pragma once

#include <string>

namespace tidemark {

/// The shortest decimal text that reads back as the same number, whatever the locale.
std::string number_text(double value);

/// A number as short as it can be said, six digits at most: "0.75".
std::string plain_number(double value);

} // namespace tidemark
