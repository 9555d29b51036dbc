#include "io/command_line.hpp"

#include "io/case_runs.hpp"
#include "io/case_start.hpp"
#include "io/compare_command.hpp"
#include "io/gates_command.hpp"
#include "io/interrupt.hpp"
#include "io/parallel.hpp"
#include "io/quantity.hpp"
#include "io/raw_scatter.hpp"
#include "io/scatter_command.hpp"
#include "io/scatter_options.hpp"
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
const int most_threads = 1024;

const int most_layouts = 100;
const int most_gates = 3; // of a layout that is searched

const std::vector<std::string> commands = {"fill",  "compare", "gates", "scatter",
                                           "sheet", "check",   "start"};

struct Arguments {
  std::string command;         // empty: none given
  std::vector<fs::path> cases; // start: the mesh
  std::optional<std::string> output;
  RunOptions run;
  bool overwrite = false;
  std::vector<std::string> alternatives; // of compare
  bool files = false;                    // of compare
  int threads = 1;                       // of compare and gates
  GatesOptions gates;
  ScatterOptions scatter;
  bool help = false;
  bool version = false;
};

void add_length_options(po::options_description& options) {
  auto add = options.add_options();
  add("steps", po::value<std::string>()->value_name("N"),
      "equal shares of the volume the filling is cut into (left out: 100)");
  add("time-limit", po::value<std::string>()->value_name("TIME"),
      "stop at this time after the start of injection, such as \"2 h\" (left out: that of the "
      "case, if it has one)");
}

void add_run_options(po::options_description& options) {
  auto add = options.add_options();
  add("frames", po::value<std::string>()->value_name("N"),
      "pictures of the front to write, spread evenly over the filled part (left out: 40; 0: "
      "none)");
  add_length_options(options);
}

void add_output_option(po::options_description& options) {
  options.add_options()(
      "output,o", po::value<std::string>()->value_name("DIR"),
      "folder for the files of the run (left out: the case's name with .out, beside the case; "
      "with several cases each gets a folder of its name in DIR)");
}

void add_fill_options(po::options_description& options) {
  add_output_option(options);
  add_run_options(options);
  options.add_options()("no-cure-search", po::bool_switch(),
                        "do not fill again to find what gel time, flow or catalyst would do when "
                        "the resin gels too early");
  options.add_options()("json", po::bool_switch(),
                        "print the summary as JSON, and nothing else, on standard output (several "
                        "cases: one document after the other)");
}

void add_compare_options(po::options_description& options) {
  auto add = options.add_options();
  add("try", po::value<std::vector<std::string>>()->composing()->value_name("CHANGES"),
      "an alternative of the one case: \"LABEL: KEY = VALUE; KEY = VALUE\", the label optional; "
      "KEY is a path such as region.skin.thickness or gate.G1.at, VALUE as in the case file, its "
      "quotes optional, or none to take the key out; once per alternative");
  add("threads", po::value<std::string>()->value_name("N"),
      "runs at once (left out: as many as the machine has cores)");
  add("output,o", po::value<std::string>()->value_name("DIR"),
      "folder for compare.csv and compare.json (left out: the first case's name with .compare, "
      "beside it)");
  add("files", po::bool_switch(),
      "write the files of each run as well, to run-1, run-2, ... in that folder");
  add_run_options(options);
  add("json", po::bool_switch(), "print compare.json, and nothing else, on standard output");
}

void add_gates_options(po::options_description& options) {
  auto add = options.add_options();
  const auto text = [](const char* name) { return po::value<std::string>()->value_name(name); };
  const auto texts = [](const char* name) {
    return po::value<std::vector<std::string>>()->composing()->value_name(name);
  };
  add("count", text("N"), "gates of a layout, 1 to 3 (left out: 1)");
  add("best", text("N"),
      "layouts to run in full and to write case files of (left out: 5; 0: only rank)");
  add("within", text("GROUP"), "only at nodes of this group of the mesh");
  add("at-rim", po::bool_switch(), "only at free edges of the part");
  add("not-in", texts("REGION"), "nowhere in this region; once per region");
  add("point", texts("X,Y,Z"),
      "only here (the nearest node), in the unit of the mesh; once per place");
  add("spacing", text("LENGTH"),
      "between the places tried (left out: as small as a thousand places allow)");
  add("radius", text("LENGTH"), "of the round ports (left out: that of the case's first gate)");
  add("apart", text("LENGTH"),
      "between the layouts that are run (left out: a tenth of the part; 0 with --point)");
  add("vents", po::bool_switch(),
      "seek for each layout the vents it takes, in place of those of the case, by several runs");
  add("threads", text("N"), "runs at once (left out: as many as the machine has cores)");
  add("output,o", text("DIR"),
      "folder for gates.csv, gates.json, places.csv, gates.vtu, layout-1.toml, ... (left out: the "
      "case's name with .gates, beside it)");
  add("steps", text("N"), "equal shares of the volume a filling is cut into (left out: 100)");
  add("time-limit", text("TIME"),
      "stop each run at this time after the start of injection (left out: that of the case, if it "
      "has one)");
  add("json", po::bool_switch(), "print gates.json, and nothing else, on standard output");
}

po::options_description options_of(const std::string& command) {
  po::options_description options("Options", 78);
  if (command == "fill") {
    add_fill_options(options);
  } else if (command == "compare") {
    add_compare_options(options);
  } else if (command == "sheet") {
    add_output_option(options);
    add_length_options(options);
  } else if (command == "gates") {
    add_gates_options(options);
  } else if (command == "scatter") {
    add_scatter_options(options);
  }
  auto add = options.add_options();
  if (command == "start") {
    add("output,o", po::value<std::string>()->value_name("FILE"),
        "the case file to write (left out: the mesh's name with .toml, beside the mesh)");
    add("overwrite", po::bool_switch(), "replace the case file if it is there already");
  }
  add("quiet", po::bool_switch(), "print nothing but errors");
  add("help,h", po::bool_switch(), "print this help");
  add("version", po::bool_switch(), "print the version");
  return options;
}

/// Those of all commands, each once.
po::options_description all_options() {
  po::options_description all;
  for (const std::string& command : commands) {
    const po::options_description own = options_of(command);
    for (const auto& option : own.options()) {
      if (all.find_nothrow(option->long_name(), false) == nullptr) {
        all.add(option);
      }
    }
  }
  return all;
}

std::string general_help() {
  return "tidemark " TIDEMARK_VERSION
         ": foretells how resin fills the dry reinforcement of a closed mould\n\n"
         "Use: tidemark COMMAND CASE... [options]\n\n"
         "Commands:\n"
         "  fill     compute the filling: will the part fill, how long does it take, at what "
         "pressure\n"
         "  compare  fill several cases, or alternatives of one, and set them side by side\n"
         "  sheet    compute the filling and write a one-page sheet for the operator of the "
         "injector\n"
         "  gates    find where on the part the gate, or two or three, fill it best\n"
         "  scatter  find how likely a short fill is when reinforcement and resin scatter\n"
         "  check    read a case and its mesh and tell what is in them, without filling\n"
         "  start    write a first case file for a mesh\n\n"
         "Example:\n"
         "  tidemark fill roof.toml\n\n"
         "tidemark COMMAND --help tells the options of a command; tidemark --version the "
         "version.\n";
}

const char* compare_help() {
  return "Use: tidemark compare CASE CASE... [options]\n"
         "     tidemark compare CASE --try CHANGES [--try CHANGES]... [options]\n\n"
         "Fills several cases, or one as it is and with values changed, and sets side by side\n"
         "whether and how they fill, what they weigh and, where prices are given, cost. Writes\n"
         "compare.csv and compare.json. Ctrl-C stops the runs and leaves whole files of what was\n"
         "done; a second one ends at once.\n\n"
         "Example:\n"
         "  tidemark compare roof.toml --try \"thin: region.skin.thickness = 3 mm\" \\\n"
         "    --try \"thin, slow: region.skin.thickness = 3 mm; injector.flow_rate = 1 L/min\"\n\n";
}

const char* gates_help() {
  return "Use: tidemark gates CASE [options]\n\n"
         "Tries the gate at about a thousand places of the part, without a filling: ranks them by\n"
         "the exact fill time at the pump's cap. Then fills the part in full, as the case has it\n"
         "and with the best layouts, and sets side by side fill time, pressure and where vents\n"
         "belong. Writes a case file for each layout. The gates of a layout take the place of all\n"
         "gates of the case, with the radius and the pump of its first, open from the start.\n"
         "Ctrl-C leaves whole files of what was done; a second one ends at once.\n\n"
         "Example:\n"
         "  tidemark gates roof.toml --count 2 --at-rim --not-in ribs\n\n";
}

std::string exit_codes_of(const std::string& command) {
  if (command == "check") {
    return "  0  the case is sound\n";
  }
  if (command == "start") {
    return "  0  the case file is written\n";
  }
  if (command == "scatter") {
    return scatter_exit_codes();
  }
  if (command == "gates") {
    return "  0  done, and the part fills with at least one layout\n  1  done, and it fills with "
           "none\n";
  }
  return command != "compare"
             ? "  0  done, and the part fills\n  1  done, and the part does not fill\n"
             : "  0  done, and all fill\n  1  done, and some do not fill\n";
}

std::string command_help(const std::string& command) {
  std::ostringstream text;
  if (command == "compare") {
    text << compare_help();
  } else if (command == "gates") {
    text << gates_help();
  } else if (command == "scatter") {
    text << scatter_help();
  } else if (command == "fill") {
    text
        << "Use: tidemark fill CASE... [options]\n\n"
           "Computes how resin fills the part of each case file, prints the verdict and writes\n"
           "summary.json, history.csv, fill.vtu and the front in time, front.pvd. Ctrl-C stops at\n"
           "the next step and leaves the files of the steps done; a second one ends at once.\n\n"
           "Example:\n"
           "  tidemark fill roof.toml -o monday --time-limit \"30 min\"\n\n";
  } else if (command == "start") {
    text << "Use: tidemark start MESH [options]\n\n"
            "Writes a first case file for a mesh: its surfaces as regions, its points, lines and\n"
            "free edges in comments, and \"?\" for every value that is still to be filled in.\n"
            "tidemark check lists those, then what else is wrong with the case.\n\n"
            "Example:\n"
            "  tidemark start roof.msh -o monday.toml\n\n";
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
       << exit_codes_of(command)
       << "  2  the input is wrong\n  3  the computation failed\n"
          "  4  a file could not be read or written\n"
       << (command == "compare" || command == "gates" || command == "scatter" || command == "start"
               ? ""
               : "With several cases: the highest of theirs.\n");
  return text.str();
}

/// "; did you mean fill?", or the words there are if none is near.
std::string suggestion(const std::string& word, const std::vector<std::string>& known) {
  const std::string nearest = nearest_word(word, known);
  return nearest.empty() ? "; there are " + list_of(known) : "; did you mean " + nearest + "?";
}

std::vector<std::string> option_names(const po::options_description& options) {
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

double length_above_zero(const std::string& option, const std::string& text, bool may_be_zero) {
  double length = 0;
  try {
    length = parse_quantity(text, Dimension::length);
  } catch (const InputError& error) {
    throw InputError(option + ": " + error.what());
  }
  if (length < 0 || (length == 0 && !may_be_zero)) {
    throw InputError(option + ": found " + quoted_text(text) + ", expected a length " +
                     (may_be_zero ? "of zero or more" : "above zero"));
  }
  return length;
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
  po::options_description all = all_options();
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
    throw InputError("unknown option " + name + suggestion(name, option_names(all_options())));
  } catch (const po::error& error) {
    throw InputError(error.what());
  }
  return values;
}

/// An option of another command is an error, not a word without effect.
void refuse_foreign_options(const std::string& command, const po::variables_map& values) {
  const std::vector<std::string> own = option_names(options_of(command));
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

/// Whether compare has something to compare.
void check_what_is_compared(const Arguments& arguments) {
  const bool has_alternatives = !arguments.alternatives.empty();
  if (has_alternatives && arguments.cases.size() > 1) {
    throw InputError("compare: found " + std::to_string(arguments.cases.size()) +
                     " cases and --try, expected either several cases, or one and its "
                     "alternatives");
  }
  if (!has_alternatives && arguments.cases.size() == 1) {
    throw InputError("compare: found one case and no --try, expected another case, or an "
                     "alternative such as --try \"region.skin.thickness = 3 mm\"");
  }
}

void read_compare_options(const po::variables_map& values, Arguments& arguments) {
  if (values.count("try") > 0) {
    arguments.alternatives = values["try"].as<std::vector<std::string>>();
  }
  arguments.files = values["files"].as<bool>();
  const auto threads = text_of(values, "threads");
  arguments.threads = threads ? whole_number("--threads", *threads, 1, most_threads) : core_count();
  if (values.count("frames") > 0 && arguments.command == "compare" && !arguments.files) {
    throw InputError("compare: --frames goes with --files: without, no pictures are written");
  }
}

/// Points say all; what else chooses places does not go with them.
void refuse_points_with_others(const po::variables_map& values) {
  if (values.count("point") == 0) {
    return;
  }
  for (const char* other : {"within", "not-in", "spacing"}) {
    if (values.count(other) > 0) {
      throw InputError(std::string("gates: --") + other +
                       " does not go with --point: found both, expected one of them");
    }
  }
  if (values["at-rim"].as<bool>()) {
    throw InputError("gates: --at-rim does not go with --point: found both, expected one of them");
  }
}

void read_gates_options(const po::variables_map& values, GatesOptions& gates) {
  refuse_points_with_others(values);
  const auto number = [&](const char* name, std::size_t otherwise, int lowest, int highest) {
    const auto text = text_of(values, name);
    return text ? static_cast<std::size_t>(
                      whole_number(std::string("--") + name, *text, lowest, highest))
                : otherwise;
  };
  const auto length = [&](const char* name, bool may_be_zero) {
    const auto text = text_of(values, name);
    return text ? std::optional(length_above_zero(std::string("--") + name, *text, may_be_zero))
                : std::nullopt;
  };
  const auto list = [&](const char* name) {
    return values.count(name) > 0 ? values[name].as<std::vector<std::string>>()
                                  : std::vector<std::string>{};
  };
  gates.count = number("count", gates.count, 1, most_gates);
  gates.best = number("best", gates.best, 0, most_layouts);
  gates.choice.points = list("point");
  gates.choice.forbidden = list("not-in");
  gates.choice.group = text_of(values, "within");
  gates.choice.at_rim = values["at-rim"].as<bool>();
  gates.choice.spacing = length("spacing", false);
  gates.choice.radius = length("radius", false);
  gates.radius_text = text_of(values, "radius");
  gates.apart = length("apart", true);
  gates.vents = values["vents"].as<bool>();
}

void read_scatter_options(const po::variables_map& values, ScatterOptions& scatter) {
  const auto number = [&](const char* name, int lowest, int highest) {
    const auto text = text_of(values, name);
    return text ? std::optional(whole_number(std::string("--") + name, *text, lowest, highest))
                : std::nullopt;
  };
  scatter.samples = number("samples", 1, most_samples);
  scatter.seed = number("seed", 1, largest_seed);
  scatter.threads = number("threads", 1, most_threads);
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
  arguments.overwrite = values["overwrite"].as<bool>();
  arguments.run = run_options(values);
  read_compare_options(values, arguments);
  read_gates_options(values, arguments.gates);
  read_scatter_options(values, arguments.scatter);
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

/// Mistakes first, then what is still to be filled in, each told from other output by the words in
/// front.
void print_findings(const InputError& error) {
  const std::vector<std::string>& findings = error.findings();
  const std::size_t mistakes = findings.size() - error.unfilled();
  for (std::size_t i = 0; i < findings.size(); ++i) {
    if (i < mistakes) {
      print_error(findings[i]);
    } else {
      std::cerr << "to fill in: " << printable(findings[i]) << "\n";
    }
  }
  if (error.unfilled() > 0) {
    std::cerr << counted(error.unfilled(), "value", "values") << " still to be filled in\n";
  }
}

/// Calls run and turns what it throws into messages and an exit code.
template <class Run> int exit_code_of(Run run) {
  try {
    return run();
  } catch (const InputError& error) {
    print_findings(error);
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

int run_start_of(const Arguments& arguments) {
  if (arguments.cases.size() > 1) {
    throw InputError("start: found " + std::to_string(arguments.cases.size()) +
                     " meshes, expected one");
  }
  StartOptions options;
  options.overwrite = arguments.overwrite;
  options.quiet = arguments.run.quiet;
  if (arguments.output) {
    options.output = *arguments.output;
  }
  run_start(arguments.cases.front(), options);
  return 0;
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

int compare(const Arguments& arguments) {
  check_what_is_compared(arguments);
  fs::path folder = arguments.cases.front();
  folder.replace_extension(".compare");
  const CompareOptions options{arguments.cases,
                               arguments.alternatives,
                               arguments.output ? fs::path(*arguments.output) : folder,
                               arguments.threads,
                               arguments.files,
                               arguments.run};
  switch (run_compare(options)) {
  case CompareOutcome::all_fill:
    return part_fills;
  case CompareOutcome::some_short:
    return part_is_short;
  case CompareOutcome::some_failed:
    return numerics_failed;
  case CompareOutcome::some_not_written:
    return no_file;
  }
  return numerics_failed;
}

int gates(const Arguments& arguments) {
  if (arguments.cases.size() > 1) {
    throw InputError("gates: found " + std::to_string(arguments.cases.size()) +
                     " cases, expected one");
  }
  GatesOptions options = arguments.gates;
  options.case_file = arguments.cases.front();
  options.folder = options.case_file;
  options.folder.replace_extension(".gates");
  options.folder = arguments.output ? fs::path(*arguments.output) : options.folder;
  options.threads = arguments.threads;
  options.run = arguments.run;
  switch (run_gates(options)) {
  case GatesOutcome::some_fill:
    return part_fills;
  case GatesOutcome::none_fills:
    return part_is_short;
  case GatesOutcome::some_failed:
    return numerics_failed;
  }
  return numerics_failed;
}

int scatter(const Arguments& arguments) {
  if (arguments.cases.size() > 1) {
    throw InputError("scatter: found " + std::to_string(arguments.cases.size()) +
                     " cases, expected one");
  }
  ScatterOptions options = arguments.scatter;
  options.case_file = arguments.cases.front();
  options.folder = options.case_file;
  options.folder.replace_extension(".scatter");
  options.folder = arguments.output ? fs::path(*arguments.output) : options.folder;
  options.run = arguments.run;
  switch (run_scatter(options)) {
  case ScatterEnd::all_fill:
  case ScatterEnd::in_team: // the leader tells
    return part_fills;
  case ScatterEnd::some_short:
  case ScatterEnd::unfinished:
    return part_is_short;
  case ScatterEnd::some_failed:
    return numerics_failed;
  }
  return numerics_failed;
}

int print_and_end(const std::string& text) {
  print(text);
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
    throw InputError(arguments.command + ": no " +
                     (arguments.command == "start" ? "mesh" : "case file") + " given; tidemark " +
                     arguments.command + " --help tells more");
  }
  if (arguments.command == "start") {
    return run_start_of(arguments);
  }
  if (arguments.command != "check") {
    catch_interrupts();
  }
  if (arguments.command == "gates") {
    return gates(arguments);
  }
  if (arguments.command == "scatter") {
    return scatter(arguments);
  }
  return arguments.command == "compare" ? compare(arguments) : run_cases(arguments);
}

} // namespace

int run_command_line(int argc, char** argv) {
  return exit_code_of([&] { return run(argc, argv); });
}

} // namespace tidemark
