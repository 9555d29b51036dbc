#include "io/command_line.hpp"

#include "io/case_runs.hpp"
#include "io/interrupt.hpp"
#include "io/quantity.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <boost/program_options.hpp>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <iostream>
#include <new>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

namespace tidemark {

namespace {

namespace fs = std::filesystem;
namespace po = boost::program_options;

enum ExitCode {
  part_fills = 0,
  part_is_short = 1,
  input_wrong = 2,
  numerics_failed = 3,
  no_file = 4
};

const int most_frames = 9999; // their numbers have four digits
const int most_steps = 100000;

const std::vector<std::string> commands = {"fill", "sheet", "check"};

struct Arguments {
  std::string command; // empty: none given
  std::vector<fs::path> cases;
  std::optional<std::string> output;
  RunOptions run;
  bool help = false;
  bool version = false;
};

po::options_description options_of(const std::string& command) {
  po::options_description options("Options", 78);
  auto add = options.add_options();
  const bool fills = command == "fill" || command == "sheet";
  if (fills) {
    add("output,o", po::value<std::string>()->value_name("DIR"),
        "folder for the files of the run (left out: the case's name with .out, beside the case; "
        "with several cases each gets a folder of its name in DIR)");
  }
  if (command == "fill") {
    add("frames", po::value<std::string>()->value_name("N"),
        "pictures of the front to write, spread evenly over the filled part (left out: 40; 0: "
        "none)");
  }
  if (fills) {
    add("steps", po::value<std::string>()->value_name("N"),
        "equal shares of the volume the filling is cut into (left out: 100)");
    add("time-limit", po::value<std::string>()->value_name("TIME"),
        "stop at this time after the start of injection, such as \"2 h\" (left out: that of the "
        "case, if it has one)");
  }
  if (command == "fill") {
    add("no-cure-search", po::bool_switch(),
        "do not fill again to find what gel time, flow or catalyst would do when the resin gels "
        "too early");
    add("json", po::bool_switch(),
        "print the summary as JSON, and nothing else, on standard output (several cases: one "
        "document "
        "after the other)");
  }
  add("quiet", po::bool_switch(), "print nothing but errors");
  add("help,h", po::bool_switch(), "print this help");
  add("version", po::bool_switch(), "print the version");
  return options;
}

std::string general_help() {
  return "tidemark " TIDEMARK_VERSION
         ": foretells how resin fills the dry reinforcement of a closed mould\n\n"
         "Use: tidemark COMMAND CASE... [options]\n\n"
         "Commands:\n"
         "  fill    compute the filling: will the part fill, how long does it take, at what "
         "pressure\n"
         "  sheet   compute the filling and write a one-page sheet for the operator of the "
         "injector\n"
         "  check   read a case and its mesh and tell what is in them, without filling\n\n"
         "Example:\n"
         "  tidemark fill roof.toml\n\n"
         "tidemark COMMAND --help tells the options of a command; tidemark --version the "
         "version.\n";
}

std::string command_help(const std::string& command) {
  std::ostringstream text;
  if (command == "fill") {
    text
        << "Use: tidemark fill CASE... [options]\n\n"
           "Computes how resin fills the part of each case file, prints the verdict and writes\n"
           "summary.json, history.csv, fill.vtu and the front in time, front.pvd. Ctrl-C stops at\n"
           "the next step and leaves the files of the steps done; a second one ends at once.\n\n"
           "Example:\n"
           "  tidemark fill roof.toml -o monday --time-limit \"30 min\"\n\n";
  } else if (command == "sheet") {
    text
        << "Use: tidemark sheet CASE... [options]\n\n"
           "Computes the filling, and if the part fills twice more, with 1.4 times less and 1.4\n"
           "times more permeable reinforcement, and writes what the operator of the injector "
           "needs\n"
           "on one page: setup-sheet.html, to print on A4 or Letter or read on a telephone, and\n"
           "setup-sheet.md. It holds settings, quantities, strokes, the order of gates and vents,\n"
           "the expected course with its band, when to stop and when to break off. What the case\n"
           "does not say stays a blank to fill by hand. A part that does not fill gets a sheet "
           "that\n"
           "says so and forbids the injection.\n\n"
           "Example:\n"
           "  tidemark sheet roof.toml -o monday\n\n";
  } else {
    text
        << "Use: tidemark check CASE... [options]\n\n"
           "Reads each case file and its mesh and prints the values used, given or default, facts\n"
           "about the mesh, where the gates and vents are, and warnings. Writes no files.\n\n"
           "Example:\n"
           "  tidemark check roof.toml\n\n";
  }
  text << options_of(command) << "\nExit codes:\n"
       << (command != "check"
               ? "  0  done, and the part fills\n  1  done, and the part does not fill\n"
               : "  0  the case is sound\n")
       << "  2  the input is wrong\n  3  the computation failed\n"
          "  4  a file could not be read or written\n"
          "With several cases: the highest of theirs.\n";
  return text.str();
}

/// "; did you mean fill?", or the words there are if none is near.
std::string suggestion(const std::string& word, const std::vector<std::string>& known) {
  const std::string nearest = nearest_word(word, known);
  return nearest.empty() ? "; there are " + list_of(known) : "; did you mean " + nearest + "?";
}

std::vector<std::string> option_names(const std::string& command) {
  const po::options_description options = options_of(command);
  std::vector<std::string> names;
  for (const auto& option : options.options()) {
    names.push_back("--" + option->long_name());
  }
  return names;
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

double time_limit(const std::string& text) {
  double limit = 0;
  try {
    limit = parse_quantity(text, Dimension::time);
  } catch (const InputError& error) {
    throw InputError("--time-limit: " + std::string(error.what()));
  }
  if (limit <= 0) {
    throw InputError("--time-limit: found " + quoted_text(text) + ", expected a time above zero");
  }
  return limit;
}

/// The words and options as given. Those of all commands are read here, since the command may stand
/// after them.
po::variables_map given_values(int argc, char** argv) {
  po::options_description all = options_of("fill");
  all.add_options()("words", po::value<std::vector<std::string>>());
  po::positional_options_description positions;
  positions.add("words", -1);
  const int style = po::command_line_style::unix_style & ~po::command_line_style::allow_guessing;
  po::variables_map values;
  try {
    po::store(
        po::command_line_parser(argc, argv).options(all).positional(positions).style(style).run(),
        values);
  } catch (const po::unknown_option& error) {
    const std::string name = error.get_option_name();
    throw InputError("unknown option " + name + suggestion(name, option_names("fill")));
  } catch (const po::error& error) {
    throw InputError(error.what());
  }
  return values;
}

/// An option of another command is an error, not a word without effect.
void refuse_foreign_options(const std::string& command, const po::variables_map& values) {
  const std::vector<std::string> own = option_names(command);
  for (const auto& [name, value] : values) {
    const bool is_given = !value.defaulted() && name != "words";
    if (is_given && std::ranges::find(own, "--" + name) == own.end()) {
      throw InputError(command + " has no option --" + name + "; it has " + list_of(own));
    }
  }
}

std::optional<std::string> text_of(const po::variables_map& values, const char* name) {
  return values.count(name) > 0 ? std::optional(values[name].as<std::string>()) : std::nullopt;
}

RunOptions run_options(const po::variables_map& values) {
  RunOptions run;
  if (const auto text = text_of(values, "frames")) {
    run.frames = whole_number("--frames", *text, 0, most_frames);
  }
  if (const auto text = text_of(values, "steps")) {
    run.fill.steps = whole_number("--steps", *text, 1, most_steps);
  }
  if (const auto text = text_of(values, "time-limit")) {
    run.fill.time_limit = time_limit(*text);
    run.values.push_back({"--time-limit", *text, true});
  }
  run.values.push_back({"--steps", std::to_string(run.fill.steps), values.count("steps") > 0});
  run.cure_search = !values["no-cure-search"].as<bool>();
  run.json = values["json"].as<bool>();
  run.quiet = values["quiet"].as<bool>();
  return run;
}

Arguments read_arguments(int argc, char** argv) {
  const po::variables_map values = given_values(argc, argv);
  Arguments arguments;
  arguments.help = values["help"].as<bool>();
  arguments.version = values["version"].as<bool>();
  if (values.count("words") > 0) {
    const auto& words = values["words"].as<std::vector<std::string>>();
    arguments.command = words.front();
    arguments.cases.assign(words.begin() + 1, words.end());
    if (std::ranges::find(commands, arguments.command) == commands.end()) {
      throw InputError("unknown command " + quoted_text(arguments.command) +
                       suggestion(arguments.command, commands));
    }
    refuse_foreign_options(arguments.command, values);
  }
  arguments.output = text_of(values, "output");
  arguments.run = run_options(values);
  return arguments;
}

/// The output folder of each case; no two the same, since one run would wipe the other's files.
std::vector<fs::path> output_folders(const Arguments& arguments) {
  std::vector<fs::path> folders;
  for (const fs::path& case_file : arguments.cases) {
    fs::path folder = case_file;
    folder.replace_extension(".out");
    if (arguments.output) {
      const fs::path given = *arguments.output;
      folder = arguments.cases.size() > 1 ? given / case_file.stem() : given;
    }
    for (std::size_t earlier = 0; earlier < folders.size(); ++earlier) {
      if (folders[earlier].lexically_normal() == folder.lexically_normal()) {
        throw InputError(arguments.cases[earlier].string() + " and " + case_file.string() +
                         " would write to the same folder, " + folder.string());
      }
    }
    folders.push_back(folder);
  }
  return folders;
}

/// One line each, told from other output by the word in front.
void print_error(const std::string& text) {
  std::istringstream lines(printable(text));
  for (std::string line; std::getline(lines, line);) {
    std::cerr << "error: " << line << "\n";
  }
}

/// Calls run and turns what it throws into messages and an exit code.
template <class Run> int exit_code_of(Run run) {
  try {
    return run();
  } catch (const InputError& error) {
    print_error(error.what());
    return input_wrong;
  } catch (const FileError& error) {
    print_error(error.what());
    return no_file;
  } catch (const fs::filesystem_error& error) {
    print_error(error.what());
    return no_file;
  } catch (const std::bad_alloc&) {
    print_error("out of memory");
    return numerics_failed;
  } catch (const std::exception& error) {
    print_error(error.what());
    return numerics_failed;
  }
}

int run_case(const Arguments& arguments, const fs::path& case_file, const fs::path& folder) {
  if (arguments.command == "check") {
    run_check(case_file, arguments.run.quiet);
    return part_fills;
  }
  const auto run = arguments.command == "sheet" ? run_sheet : run_fill;
  return run(case_file, folder, arguments.run) ? part_fills : part_is_short;
}

/// Runs the cases in turn; one that fails does not keep the next from running.
int run_cases(const Arguments& arguments) {
  const std::vector<fs::path> folders = output_folders(arguments);
  int highest = part_fills;
  for (std::size_t i = 0; i < arguments.cases.size(); ++i) {
    if (i > 0 && !arguments.run.quiet && !arguments.run.json) {
      std::cout << "\n";
    }
    highest = std::max(
        highest, exit_code_of([&] { return run_case(arguments, arguments.cases[i], folders[i]); }));
    if (interrupted()) {
      break;
    }
  }
  return highest;
}

int print_and_end(const std::string& text) {
  std::cout << text << std::flush;
  if (!std::cout) {
    throw FileError("standard output cannot be written");
  }
  return 0;
}

int run(int argc, char** argv) {
  const Arguments arguments = read_arguments(argc, argv);
  if (arguments.version) {
    return print_and_end("tidemark " TIDEMARK_VERSION "\n");
  }
  if (arguments.help) {
    return print_and_end(arguments.command.empty() ? general_help()
                                                   : command_help(arguments.command));
  }
  if (arguments.command.empty()) {
    throw InputError("no command given; there are " + list_of(commands) +
                     "; tidemark --help tells more");
  }
  if (arguments.cases.empty()) {
    throw InputError(arguments.command + ": no case file given; tidemark " + arguments.command +
                     " --help tells more");
  }
  if (arguments.command != "check") {
    catch_interrupts();
  }
  return run_cases(arguments);
}

} // namespace

int run_command_line(int argc, char** argv) {
  return exit_code_of([&] { return run(argc, argv); });
}

} // namespace tidemark
