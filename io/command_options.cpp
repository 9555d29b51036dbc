#include "io/command_options.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <charconv>

namespace tidemark {

namespace po = boost::program_options;

void add_length_options(po::options_description& options) {
  auto add = options.add_options();
  add("steps", po::value<std::string>()->value_name("N"),
      "equal shares of the volume the filling is cut into (left out: 100)");
  add("time-limit", po::value<std::string>()->value_name("TIME"),
      "stop at this time after the start of injection, such as \"2 h\" (left out: that of the "
      "case, if it has one)");
  add_fineness_option(options);
}

void add_fineness_option(po::options_description& options) {
  options.add_options()("finer-channels", po::bool_switch(),
                        "divide the elements beside runners and race tracks that are narrow "
                        "against them, so that the front there is not late; takes longer");
}

void add_run_options(po::options_description& options) {
  auto add = options.add_options();
  add("frames", po::value<std::string>()->value_name("N"),
      "states of the front to write, spread evenly over the filled part (left out: 40; 0: "
      "none)");
  add_length_options(options);
}

void add_output_option(po::options_description& options) {
  options.add_options()(
      "output,o", po::value<std::string>()->value_name("DIR"),
      "folder for the files of the run (left out: the case's name with .out, beside the case; "
      "with several cases each gets a folder of its name in DIR)");
}

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

namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& text,
                         const std::string& expected) {
  throw InputError(option + ": found " + quoted_text(text) + ", expected " + expected);
}

} // namespace

double quantity_of(const std::string& option, const std::string& text, Dimension dimension) {
  try {
    return parse_quantity(text, dimension);
  } catch (const InputError& error) {
    throw InputError(option + ": " + error.what());
  }
}

double length_above_zero(const std::string& option, const std::string& text, bool may_be_zero) {
  const double length = quantity_of(option, text, Dimension::length);
  if (length < 0 || (length == 0 && !may_be_zero)) {
    refuse(option, text, may_be_zero ? "a length of zero or more" : "a length above zero");
  }
  return length;
}

double volume_above_zero(const std::string& option, const std::string& text) {
  const double volume = quantity_of(option, text, Dimension::volume);
  if (volume <= 0) {
    refuse(option, text, "a volume above zero");
  }
  return volume;
}

double time_limit(const std::string& text) {
  const double limit = quantity_of("--time-limit", text, Dimension::time);
  if (limit <= 0) {
    refuse("--time-limit", text, "a time above zero");
  }
  return limit;
}

std::optional<std::string> text_of(const po::variables_map& values, const char* name) {
  return values.count(name) > 0 ? std::optional(values[name].as<std::string>()) : std::nullopt;
}

std::vector<std::string> texts_of(const po::variables_map& values, const char* name) {
  return values.count(name) > 0 ? values[name].as<std::vector<std::string>>()
                                : std::vector<std::string>{};
}

po::typed_value<std::string>* one_text(const char* value_name) {
  return po::value<std::string>()->value_name(value_name);
}

po::typed_value<std::vector<std::string>>* several_texts(const char* value_name) {
  return po::value<std::vector<std::string>>()->composing()->value_name(value_name);
}

} // namespace tidemark
