#include "io/gates_options.hpp"

#include "io/command_options.hpp"
#include "mesh/error.hpp"

#include <string>

namespace tidemark {

namespace po = boost::program_options;

namespace {

constexpr int most_layouts = 100;
constexpr int most_gates = 3; // of a layout that is searched

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

/// Where no layout is run, none takes vents, none is apart from another and pairs are not ranked.
void refuse_options_of_layouts(const po::variables_map& values, const GatesOptions& gates) {
  if (gates.best > 0) {
    return;
  }
  const auto refuse = [](const std::string& option) {
    throw InputError("gates: " + option +
                     " does not go with --best 0, which ranks single places and runs no layout: "
                     "found both, expected one of them");
  };
  if (gates.count > 1) {
    refuse("--count " + std::to_string(gates.count));
  }
  if (values.count("apart") > 0) {
    refuse("--apart");
  }
  if (gates.vents) {
    refuse("--vents");
  }
}

} // namespace

void add_gates_options(po::options_description& options) {
  auto add = options.add_options();
  add("count", one_text("N"), "gates of a layout, 1 to 3 (left out: 1)");
  add("best", one_text("N"),
      "layouts to run in full and to write case files of (left out: 5; 0: none, only "
      "rank single places)");
  add("within", one_text("GROUP"), "only at nodes of this group of the mesh");
  add("at-rim", po::bool_switch(), "only at free edges of the part");
  add("not-in", several_texts("REGION"), "nowhere in this region; once per region");
  add("point", several_texts("X,Y,Z"),
      "only here (the nearest node), in the unit of the mesh; once per place");
  add("spacing", one_text("LENGTH"),
      "between the places tried (left out: as small as a thousand places allow)");
  add("radius", one_text("LENGTH"), "of the round ports (left out: that of the case's first gate)");
  add("apart", one_text("LENGTH"),
      "between the layouts that are run (left out: a tenth of the part; 0 with --point)");
  add("vents", po::bool_switch(),
      "seek for each layout the vents it takes, in place of those of the case, by several runs");
  add("threads", one_text("N"), "runs at once (left out: as many as the machine has cores)");
  add("output,o", one_text("DIR"),
      "folder for gates.csv, gates.json, gates.html, places.csv, gates.vtu, layout-1.toml, ... "
      "(left out: the "
      "case's name with .gates, beside it)");
  add("steps", one_text("N"), "equal shares of the volume a filling is cut into (left out: 100)");
  add("time-limit", one_text("TIME"),
      "stop each run at this time after the start of injection (left out: that of the case, if it "
      "has one)");
  add_fineness_option(options);
  add("no-report", po::bool_switch(), "do not write gates.html");
  add("json", po::bool_switch(), "print gates.json, and nothing else, on standard output");
}

const char* gates_help() {
  return "Use: tidemark gates CASE [options]\n\n"
         "Tries the gate at about a thousand places of the part, without a filling: ranks them by\n"
         "the exact fill time at the pump's cap. Then fills the part in full, as the case has it\n"
         "and with the best layouts, and sets side by side fill time, pressure and where vents\n"
         "belong. Writes a case file for each layout. The gates of a layout take the place of all\n"
         "gates of the case, with the radius and the pump of its first, open from the start.\n"
         "Ctrl-C leaves whole files of what was done, and the same command goes on from there; a\n"
         "second one ends at once.\n\n"
         "Example:\n"
         "  tidemark gates roof.toml --count 2 --at-rim --not-in ribs\n\n";
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
  gates.count = number("count", gates.count, 1, most_gates);
  gates.best = number("best", gates.best, 0, most_layouts);
  gates.choice.points = texts_of(values, "point");
  gates.choice.forbidden = texts_of(values, "not-in");
  gates.choice.group = text_of(values, "within");
  gates.choice.at_rim = values["at-rim"].as<bool>();
  gates.choice.spacing = length("spacing", false);
  gates.choice.radius = length("radius", false);
  gates.radius_text = text_of(values, "radius");
  gates.apart = length("apart", true);
  gates.vents = values["vents"].as<bool>();
  refuse_options_of_layouts(values, gates);
}

} // namespace tidemark
