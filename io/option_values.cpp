#include "io/option_values.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <charconv>

namespace tidemark {

int whole_number(const std::string& option, const std::string& text, int lowest, int highest) {
  int number = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number);
  if (error != std::errc() || stop != end || number < lowest || number > highest) {
    throw InputError(option + ": found " + quoted_text(text) + ", expected a whole number from " +
                     std::to_string(lowest) + " to " + std::to_string(highest));
  }
  return number;
}

} // namespace tidemark
