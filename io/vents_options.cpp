#include "io/vents_options.hpp"

#include "io/command_options.hpp"

#include <string>

namespace tidemark {

namespace po = boost::program_options;

void add_vents_options(po::options_description& options) {
  auto add = options.add_options();
  add("own", po::bool_switch(), "look at the vents the case has; seek none");
  add("reach", one_text("LENGTH"),
      "move each vent up to so far along the surface (left out: a quarter of the part; \"0 mm\": "
      "not at all)");
  add("allow", one_text("VOLUME"),
      "of pores that may stay dry with a vent moved or left out, such as \"2 mL\" (left out: "
      "none)");
  add("threads", one_text("N"), "runs at once (left out: as many as the machine has cores)");
  add("output,o", one_text("DIR"),
      "folder for vents.csv, vents.json, vents.html, vents.vtu and with-vents.toml (left out: the "
      "case's name with .vents, beside it)");
  add_length_options(options);
  add("no-report", po::bool_switch(), "do not write vents.html");
  add("json", po::bool_switch(), "print vents.json, and nothing else, on standard output");
}

const char* vents_help() {
  return "Use: tidemark vents CASE [options]\n\n"
         "For the gates of the case seeks vents with which no air is shut in: beginning where the\n"
         "resin comes last, one more where air stays, in the end without those that can be "
         "spared.\n"
         "Or takes the vents of the case (--own). Then fills the part without each of them, and\n"
         "with each moved away in eight directions until air is shut in. Writes the vents found\n"
         "as a case file. Ctrl-C leaves whole files of what was done, and the same command goes "
         "on\n"
         "from there; a second one ends at once.\n\n"
         "Example:\n"
         "  tidemark vents roof.toml --reach \"100 mm\" --allow \"1 mL\"\n\n";
}

void read_vents_options(const po::variables_map& values, VentsOptions& vents) {
  vents.own = values["own"].as<bool>();
  if (const auto text = text_of(values, "reach")) {
    vents.reach = length_above_zero("--reach", *text, true);
  }
  if (const auto text = text_of(values, "allow")) {
    vents.allowed = volume_above_zero("--allow", *text);
  }
}

} // namespace tidemark
