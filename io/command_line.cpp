#include "io/command_line.hpp"

#include "io/case_runs.hpp"
#include "io/case_start.hpp"
#include "io/command_options.hpp"
#include "io/command_table.hpp"
#include "io/compare_command.hpp"
#include "io/gates_options.hpp"
#include "io/interrupt.hpp"
#include "io/mesh_reader.hpp"
#include "io/number_text.hpp"
#include "io/output_folder.hpp"
#include "io/parallel.hpp"
#include "io/scatter_command.hpp"
#include "io/scatter_options.hpp"
#include "io/spoken.hpp"
#include "io/text_file.hpp"
#include "io/vents_options.hpp"
#include "io/window_options.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <boost/program_options.hpp>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <iterator>
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

struct Arguments {
  std::string command;         // empty: none given
  std::vector<fs::path> cases; // start: the mesh
  std::optional<std::string> output;
  RunOptions run;
  bool overwrite = false;
  std::vector<std::string> alternatives; // of compare
  bool files = false;                    // of compare
  int threads = 1;                       // of commands that run several fillings
  GatesOptions gates;
  VentsOptions vents;
  WindowOptions window;
  ScatterOptions scatter;
  bool help = false;
  bool version = false;
};

/// "; did you mean fill?", or the words there are if none is near.
std::string suggestion(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string> nearest = nearest_words(word, known);
  return nearest.empty() ? "; there are " + list_of(known)
                         : "; did you mean " + one_of(nearest) + "?";
}

std::vector<std::string> option_names(const po::options_description& options) {
  std::vector<std::string> names;
  for (const auto& option : options.options()) {
    names.push_back("--" + option->long_name());
  }
  return names;
}

/// The first word that is a command; empty if none is.
std::string command_in(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + std::max(argc, 1));
  const auto found = std::ranges::find_if(words, [](const std::string& word) {
    return std::ranges::find(command_names(), word) != command_names().end();
  });
  return found == words.end() ? "" : *found;
}

/// "--output (-o)"
std::string full_name(const std::string& name, const po::options_description& options) {
  const std::string brief =
      options.find(name, false)
          .canonical_display_name(po::command_line_style::allow_dash_for_short);
  return "--" + name + (brief.size() == 2 ? " (" + brief + ")" : "");
}

/// "; did you mean --output (-o)?" for --out, or the options there are.
std::string option_suggestion(const std::string& given, const po::options_description& options) {
  const std::string word = given.substr(std::min(given.size(), given.find_first_not_of('-')));
  std::vector<std::string> names;
  std::vector<std::string> nearest;
  for (const auto& option : options.options()) {
    names.push_back(option->long_name());
    if (nearest.empty() && word.size() > 1 && names.back().starts_with(word)) {
      nearest.push_back(names.back());
    }
  }
  nearest = nearest.empty() ? nearest_words(word, names) : nearest;
  std::ranges::transform(nearest, nearest.begin(),
                         [&](const std::string& name) { return full_name(name, options); });
  return nearest.empty() ? "; there are " + list_of(option_names(options))
                         : "; did you mean " + one_of(nearest) + "?";
}

/// Letters at the beginning that are the same.
std::size_t common_letters(const std::string& one, const std::string& other) {
  return static_cast<std::size_t>(std::ranges::mismatch(one, other).in1 - one.begin());
}

/// -out is no folder "ut": of a single dash only the letters -o and -h are known. Refused is what
/// begins an option or, as -outdir and -outputs=x, begins like one by three letters.
void refuse_single_dashes(int argc, char** argv, const po::options_description& options) {
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    const std::string name = word.substr(0, word.find('=')).substr(word.starts_with('-') ? 1 : 0);
    if (!word.starts_with('-') || name.size() < 2 || name[0] == '-') {
      continue;
    }
    std::string nearest;
    for (const auto& option : options.options()) {
      const std::string& known = option->long_name();
      nearest = common_letters(name, known) > common_letters(name, nearest) ? known : nearest;
    }
    if (common_letters(name, nearest) >= std::min<std::size_t>(3, name.size())) {
      throw InputError("unknown option -" + name + "; did you mean " + full_name(nearest, options) +
                       "?");
    }
  }
}

/// -o=x is no folder "=x": a letter stands alone before its value.
void refuse_equals_signs(int argc, char** argv, const po::options_description& options) {
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word.size() < 3 || word[0] != '-' || word[1] == '-' || word[2] != '=') {
      continue;
    }
    const std::string letter = word.substr(0, 2);
    const po::option_description* const option = options.find_nothrow(letter, false);
    if (option == nullptr) {
      continue; // told as any unknown option
    }
    std::string value;
    if (option->semantic()->max_tokens() > 0) {
      const std::string given = word.substr(3);
      value = given.empty() ? option->semantic()->name() : given;
      value = " " + (given.find(' ') == std::string::npos ? value : "\"" + value + "\"");
    }
    throw InputError("found " + quoted_text(word) + ", expected " + letter + value + " or --" +
                     option->long_name() + value + ": no equals sign behind a single letter");
  }
}

/// The words and options as given. Those of all commands are read here, since the command may stand
/// after them.
po::variables_map given_values(int argc, char** argv) {
  po::options_description all = all_options();
  all.add_options()("words", po::value<std::vector<std::string>>());
  po::positional_options_description positions;
  positions.add("words", -1);
  const std::string command = command_in(argc, argv);
  const po::options_description own = command.empty() ? all_options() : options_of(command);
  refuse_single_dashes(argc, argv, own);
  refuse_single_dashes(argc, argv, all_options()); // no folder "verwrite" of another command either
  refuse_equals_signs(argc, argv, own);
  const int style = po::command_line_style::unix_style & ~po::command_line_style::allow_guessing;
  po::variables_map values;
  try {
    po::store(
        po::command_line_parser(argc, argv).options(all).positional(positions).style(style).run(),
        values);
  } catch (const po::unknown_option& error) {
    const std::string name = error.get_option_name();
    throw InputError("unknown option " + name + option_suggestion(name, own));
  } catch (const po::error& error) {
    throw InputError(error.what());
  }
  return values;
}

/// The commands that have an option.
std::vector<std::string> owners_of(const std::string& option) {
  std::vector<std::string> owners;
  std::ranges::copy_if(command_names(), std::back_inserter(owners), [&](const std::string& name) {
    return options_of(name).find_nothrow(option, false) != nullptr;
  });
  return owners;
}

/// An option of another command is an error, not a word without effect.
void refuse_foreign_options(const std::string& command, const po::variables_map& values) {
  const std::vector<std::string> own = option_names(options_of(command));
  for (const auto& [name, value] : values) {
    const bool is_given = !value.defaulted() && name != "words";
    if (is_given && std::ranges::find(own, "--" + name) == own.end()) {
      const std::vector<std::string> owners = owners_of(name);
      throw InputError(command + " has no option --" + name + " (" + list_of(owners) +
                       (owners.size() > 1 ? " have" : " has") + " it); it has " + list_of(own));
    }
  }
}

/// From the part to the eye.
Vector3 view_direction(const std::string& text) {
  const auto direction = three_numbers(text);
  if (!direction || direction->cwiseAbs().maxCoeff() < 1e-9 ||
      direction->cwiseAbs().maxCoeff() > 1e9) {
    throw InputError("--view: found " + quoted_text(text) +
                     ", expected three numbers, not all zero, such as \"1, -1, 0.5\"");
  }
  return *direction;
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
  run.fill.finer_channels = values["finer-channels"].as<bool>();
  if (run.fill.finer_channels) {
    run.values.push_back({"--finer-channels", "yes", true});
  }
  run.cure_search = !values["no-cure-search"].as<bool>();
  run.report = !values["no-report"].as<bool>();
  run.has_pictures = !values["no-pictures"].as<bool>();
  if (const auto text = text_of(values, "view")) {
    run.pictures.from = view_direction(*text);
  }
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
    throw InputError("compare: --frames goes with --files: without, no frames are written");
  }
}

void refuse_view_without_pictures(const po::variables_map& values) {
  if (values.count("view") > 0 && values["no-pictures"].as<bool>()) {
    throw InputError("fill: --view does not go with --no-pictures: found both, expected one of "
                     "them");
  }
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
    if (arguments.command == "help") {
      throw InputError("unknown command \"help\"; tidemark --help tells the commands, tidemark "
                       "COMMAND --help the options of one");
    }
    if (std::ranges::find(command_names(), arguments.command) == command_names().end()) {
      throw InputError("unknown command " + quoted_text(arguments.command) +
                       suggestion(arguments.command, command_names()));
    }
    refuse_foreign_options(arguments.command, values);
  }
  arguments.output = text_of(values, "output");
  if (arguments.output && arguments.output->empty()) {
    throw InputError(std::string("--output: found \"\", expected the name of a ") +
                     (arguments.command == "start" ? "file" : "folder"));
  }
  arguments.overwrite = values["overwrite"].as<bool>();
  refuse_view_without_pictures(values);
  arguments.run = run_options(values);
  read_compare_options(values, arguments);
  read_gates_options(values, arguments.gates);
  read_vents_options(values, arguments.vents);
  arguments.window = read_window_options(values);
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
  } catch (const WriteError& error) {
    print_error(error.what());
    if (error.is_of_a_run()) {
      print_error(error.folder().string() +
                  ": the files there are not complete: the run must be repeated");
    }
    return no_file;
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

/// Tells of each case that cannot be opened; 0 if all can.
int tell_unreadable(const std::vector<fs::path>& cases) {
  int highest = part_fills;
  for (const fs::path& case_file : cases) {
    highest = std::max(highest, exit_code_of([&] {
                         text_of_file(case_file, "a case file");
                         return static_cast<int>(part_fills);
                       }));
  }
  return highest;
}

/// Runs the cases in turn; one that fails does not keep the next from running. But none is run if
/// one cannot be opened: better to know that now than in an hour.
int run_cases(const Arguments& arguments) {
  const std::vector<fs::path> folders = output_folders(arguments);
  if (arguments.cases.size() > 1 && arguments.command != "check") {
    if (const int code = tell_unreadable(arguments.cases); code != part_fills) {
      print_error("none of the " + std::to_string(arguments.cases.size()) + " cases was run");
      return code;
    }
  }
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

RunsEnd compare(const Arguments& arguments) {
  check_what_is_compared(arguments);
  fs::path folder = arguments.cases.front();
  folder.replace_extension(".compare");
  return run_compare({arguments.cases, arguments.alternatives,
                      arguments.output ? fs::path(*arguments.output) : folder, arguments.threads,
                      arguments.files, arguments.run});
}

/// Of a command with one case: what all of these have. ending: of the folder beside the case.
template <class Options>
Options for_one_case(Options options, const Arguments& arguments, const char* ending) {
  if (arguments.cases.size() > 1) {
    throw InputError(arguments.command + ": found " + std::to_string(arguments.cases.size()) +
                     " cases, expected one");
  }
  options.case_file = arguments.cases.front();
  options.folder = options.case_file;
  options.folder.replace_extension(ending);
  options.folder = arguments.output ? fs::path(*arguments.output) : options.folder;
  options.threads = arguments.threads;
  options.run = arguments.run;
  return options;
}

RunsEnd scatter(const Arguments& arguments) {
  ScatterOptions options = for_one_case(arguments.scatter, arguments, ".scatter");
  options.threads = arguments.scatter.threads; // not given is not the same as one for each core
  return run_scatter(options);
}

/// Of a command that runs several fillings; none of another.
std::optional<RunsEnd> run_several(const Arguments& arguments) {
  const std::string& command = arguments.command;
  if (command == "compare") {
    return compare(arguments);
  }
  if (command == "gates") {
    return run_gates(for_one_case(arguments.gates, arguments, ".gates"));
  }
  if (command == "vents") {
    return run_vents(for_one_case(arguments.vents, arguments, ".vents"));
  }
  if (command == "window") {
    return run_window(for_one_case(arguments.window, arguments, ".window"));
  }
  return command == "scatter" ? std::optional(scatter(arguments)) : std::nullopt;
}

int exit_code_of(RunsEnd end) {
  switch (end) {
  case RunsEnd::as_wished:
    return part_fills;
  case RunsEnd::some_short:
    return part_is_short;
  case RunsEnd::some_failed:
    return numerics_failed;
  case RunsEnd::not_written:
    return no_file;
  }
  return numerics_failed;
}

int print_and_end(const std::string& text) {
  print(text);
  return 0;
}

/// A mesh read as a case would be told to be no text.
void refuse_meshes(const std::vector<fs::path>& cases) {
  for (const fs::path& file : cases) {
    std::error_code none;
    if (has_mesh_extension(file) && fs::is_regular_file(file, none)) {
      throw InputError(file.string() +
                       ": is named like a mesh, expected a case file; tidemark "
                       "start " +
                       file.string() + " writes a first one for a mesh");
    }
  }
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
    throw InputError("no command given; there are " + list_of(command_names()) +
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
  refuse_meshes(arguments.cases);
  if (arguments.command != "check") {
    catch_interrupts();
  }
  const std::optional<RunsEnd> end = run_several(arguments);
  return end ? exit_code_of(*end) : run_cases(arguments);
}

} // namespace

int run_command_line(int argc, char** argv) {
  return exit_code_of([&] { return run(argc, argv); });
}

} // namespace tidemark
