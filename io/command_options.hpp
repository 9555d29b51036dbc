// Options that several commands share, and how their values are read.
#pragma once

#include "io/quantity.hpp"

#include <boost/program_options.hpp>

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

inline constexpr int most_frames = 9999; // their numbers have four digits
inline constexpr int most_steps = 100000;
inline constexpr int most_threads = 1024;

/// --finer-channels.
void add_fineness_option(boost::program_options::options_description& options);

/// That, --steps and --time-limit.
void add_length_options(boost::program_options::options_description& options);

/// Those and --frames.
void add_run_options(boost::program_options::options_description& options);

/// --output of commands that take several cases.
void add_output_option(boost::program_options::options_description& options);

/// Throws InputError unless text is a whole number from lowest to highest.
int whole_number(const std::string& option, const std::string& text, int lowest, int highest);

/// In SI. Throws InputError (OPTION: found ...) unless text is a number with a unit of the
/// dimension.
double quantity_of(const std::string& option, const std::string& text, Dimension dimension);

/// [m]. Throws InputError unless text is a length with its unit above zero, or zero where it may
/// be.
double length_above_zero(const std::string& option, const std::string& text, bool may_be_zero);

/// [m3]. Throws InputError unless text is a volume with its unit above zero.
double volume_above_zero(const std::string& option, const std::string& text);

/// [s]. Throws InputError unless text is a time with its unit above zero.
double time_limit(const std::string& text);

/// The value of an option as given, if it was.
std::optional<std::string> text_of(const boost::program_options::variables_map& values,
                                   const char* name);

/// Those of an option that may be given several times.
std::vector<std::string> texts_of(const boost::program_options::variables_map& values,
                                  const char* name);

/// For options without and with a text, the latter once or several times.
boost::program_options::typed_value<std::string>* one_text(const char* value_name);
boost::program_options::typed_value<std::vector<std::string>>*
several_texts(const char* value_name);

} // namespace tidemark
