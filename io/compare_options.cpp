#include "io/compare_options.hpp"

#include "io/command_options.hpp"

#include <string>

namespace tidemark {

namespace po = boost::program_options;

void add_compare_options(po::options_description& options) {
  auto add = options.add_options();
  add("try", po::value<std::vector<std::string>>()->composing()->value_name("CHANGES"),
      "an alternative of the one case: \"LABEL: KEY = VALUE; KEY = VALUE\", the label optional; "
      "KEY is a path such as region.skin.thickness or gate.G1.at, VALUE as in the case file, its "
      "quotes optional, or none to take the key out; once per alternative");
  add("threads", po::value<std::string>()->value_name("N"),
      "runs at once (left out: as many as the machine has cores)");
  add("output,o", po::value<std::string>()->value_name("DIR"),
      "folder for compare.csv, compare.json and compare.html (left out: the first case's name with "
      ".compare, "
      "beside it)");
  add("files", po::bool_switch(),
      "write the files of each run as well, to run-1, run-2, ... in that folder");
  add_run_options(options);
  add("no-report", po::bool_switch(), "do not write compare.html, nor report.html of the runs");
  add("json", po::bool_switch(), "print compare.json, and nothing else, on standard output");
}

const char* compare_help() {
  return "Use: tidemark compare CASE CASE... [options]\n"
         "     tidemark compare CASE --try CHANGES [--try CHANGES]... [options]\n\n"
         "Fills several cases, or one as it is and with values changed, and sets side by side\n"
         "whether and how they fill, what they weigh and, where prices are given, cost. Writes\n"
         "compare.csv, compare.json and compare.html. Ctrl-C stops the runs and leaves whole "
         "files\n"
         "of what was done; a second one ends at once.\n\n"
         "Example:\n"
         "  tidemark compare roof.toml --try \"thin: region.skin.thickness = 3 mm\" \\\n"
         "    --try \"thin, slow: region.skin.thickness = 3 mm; injector.flow_rate = 1 L/min\"\n\n";
}

} // namespace tidemark
