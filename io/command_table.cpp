#include "io/command_table.hpp"

#include "io/command_options.hpp"
#include "io/compare_options.hpp"
#include "io/gates_options.hpp"
#include "io/scatter_options.hpp"
#include "io/vents_options.hpp"
#include "io/window_options.hpp"

#include <algorithm>
#include <sstream>

namespace tidemark {

namespace po = boost::program_options;

namespace {

struct Command {
  const char* name;
  const char* summary;                                   // as the general help has it
  void (*add_options)(po::options_description& options); // but for those of all commands
  const char* (*help)();
  const char* exit_codes; // 0 and, where there is one, 1
  bool takes_several;     // cases, each with an exit code
};

void add_fill_options(po::options_description& options) {
  add_output_option(options);
  add_run_options(options);
  options.add_options()("no-cure-search", po::bool_switch(),
                        "do not fill again to find what gel time, flow or catalyst would do when "
                        "the resin gels too early");
  options.add_options()("no-report", po::bool_switch(), "do not write report.html");
  options.add_options()("no-pictures", po::bool_switch(), "draw no pictures (PNG)");
  options.add_options()("view", one_text("X,Y,Z"),
                        "direction from the part to the eye, for the pictures (left out: the side "
                        "that shows most of the part, a little tilted)");
  options.add_options()("json", po::bool_switch(),
                        "print the summary as JSON, and nothing else, on standard output (several "
                        "cases: one document after the other)");
}

void add_sheet_options(po::options_description& options) {
  add_output_option(options);
  add_length_options(options);
}

void add_start_options(po::options_description& options) {
  auto add = options.add_options();
  add("output,o", one_text("FILE"),
      "the case file to write (left out: the mesh's name with .toml, beside the mesh)");
  add("overwrite", po::bool_switch(), "replace the case file if it is there already");
}

void add_no_options(po::options_description& /*options*/) {}

const char* fill_help() {
  return "Use: tidemark fill CASE... [options]\n\n"
         "Computes how resin fills the part of each case file, prints the verdict and writes\n"
         "summary.json, history.csv, fill.vtu, the front in time, front.pvd, report.html, a page\n"
         "with plots and tables and the part to turn, for any browser, and pictures: "
         "fill-time.png,\n"
         "pressure.png, last-places.png and layout.png. Ctrl-C stops at the next step and leaves\n"
         "the files of the steps done; a second one ends at once.\n\n"
         "Example:\n"
         "  tidemark fill roof.toml -o monday --time-limit \"30 min\"\n\n";
}

const char* sheet_help() {
  return "Use: tidemark sheet CASE... [options]\n\n"
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
}

const char* check_help() {
  return "Use: tidemark check CASE... [options]\n\n"
         "Reads each case file and its mesh and prints the values used, given or default, facts\n"
         "about the mesh, where the gates and vents are, and warnings. Writes no files.\n\n"
         "Example:\n"
         "  tidemark check roof.toml\n\n";
}

const char* start_help() {
  return "Use: tidemark start MESH [options]\n\n"
         "Writes a first case file for a mesh: its surfaces as regions, its points, lines and\n"
         "free edges in comments, and \"?\" for every value that is still to be filled in.\n"
         "tidemark check lists those, then what else is wrong with the case.\n\n"
         "Example:\n"
         "  tidemark start roof.msh -o monday.toml\n\n";
}

constexpr const char* fills_or_not =
    "  0  done, and the part fills\n  1  done, and the part does not fill\n";

const std::vector<Command>& commands() {
  static const std::vector<Command> all = {
      {"fill", "compute the filling: will the part fill, how long does it take, at what pressure",
       add_fill_options, fill_help, fills_or_not, true},
      {"compare", "fill several cases, or alternatives of one, and set them side by side",
       add_compare_options, compare_help,
       "  0  done, and all fill\n  1  done, and some do not fill\n", false},
      {"sheet", "compute the filling and write a one-page sheet for the operator of the injector",
       add_sheet_options, sheet_help, fills_or_not, true},
      {"gates", "find where on the part the gate, or two or three, fill it best", add_gates_options,
       gates_help,
       "  0  done, and the part fills with at least one layout\n"
       "  1  done, and it fills with none\n",
       false},
      {"vents", "find which vents a part needs, and how far each may move", add_vents_options,
       vents_help, "  0  done, and the part fills with the vents\n  1  done, and it does not\n",
       false},
      {"window",
       "find which flow rates and pressure caps are safe, and the setting in their middle",
       add_window_options, window_help,
       "  0  done, and the part fills safely at some setting\n  1  done, and it does at none\n",
       false},
      {"scatter", "find how likely a short fill is when reinforcement and resin scatter",
       add_scatter_options, scatter_help, scatter_exit_codes(), false},
      {"check", "read a case and its mesh and tell what is in them, without filling",
       add_no_options, check_help, "  0  the case is sound\n", true},
      {"start", "write a first case file for a mesh", add_start_options, start_help,
       "  0  the case file is written\n", false}};
  return all;
}

const Command& command_of(const std::string& name) {
  return *std::ranges::find(commands(), name, &Command::name);
}

} // namespace

const std::vector<std::string>& command_names() {
  static const std::vector<std::string> names = [] {
    std::vector<std::string> result;
    for (const Command& command : commands()) {
      result.emplace_back(command.name);
    }
    return result;
  }();
  return names;
}

po::options_description options_of(const std::string& command) {
  po::options_description options("Options", 78);
  command_of(command).add_options(options);
  auto add = options.add_options();
  add("quiet", po::bool_switch(), "print nothing but errors");
  add("help,h", po::bool_switch(), "print this help");
  add("version", po::bool_switch(), "print the version");
  return options;
}

po::options_description all_options() {
  po::options_description all;
  for (const std::string& command : command_names()) {
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
  std::string text = "tidemark " TIDEMARK_VERSION
                     ": foretells how resin fills the dry reinforcement of a closed mould\n\n"
                     "Use: tidemark COMMAND CASE... [options]\n\nCommands:\n";
  for (const Command& command : commands()) {
    std::string name = command.name;
    name.resize(9, ' ');
    text += "  " + name + command.summary + "\n";
  }
  return text + "\nExample:\n  tidemark fill roof.toml\n\ntidemark COMMAND --help tells the "
                "options of a command; tidemark --version the version.\n";
}

std::string command_help(const std::string& name) {
  const Command& command = command_of(name);
  std::ostringstream text;
  text << command.help() << options_of(name) << "\nExit codes:\n"
       << command.exit_codes
       << "  2  the input is wrong\n  3  the computation failed\n"
          "  4  a file could not be read or written\n"
       << (command.takes_several ? "With several cases: the highest of theirs.\n" : "");
  return text.str();
}

} // namespace tidemark
