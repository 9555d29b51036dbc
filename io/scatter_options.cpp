#include "io/scatter_options.hpp"

#include "io/command_options.hpp"
#include "io/raw_scatter.hpp"

#include <string>

namespace tidemark {

namespace po = boost::program_options;

void add_scatter_options(po::options_description& options) {
  auto add = options.add_options();
  const auto text = [](const char* name) { return po::value<std::string>()->value_name(name); };
  add("samples", text("N"), "parts to draw and fill (left out: those of the case, or 200)");
  add("seed", text("N"),
      "of the random numbers: the same seed draws the same parts (left out: that of the case, or "
      "1)");
  add("allow", text("VOLUME"),
      "of pores that may stay dry, with their air shut in, in a part that counts as filled (left "
      "out: none)");
  add("threads", text("N"), "runs at once (left out: as many as the machine has cores)");
  add("output,o", text("DIR"),
      "folder for scatter.json, scatter.csv, scatter.vtu and scatter.html (left out: the case's "
      "name with .scatter, beside it)");
  add("steps", text("N"), "equal shares of the volume a filling is cut into (left out: 100)");
  add("time-limit", text("TIME"),
      "stop each run at this time after the start of injection (left out: that of the case, if it "
      "has one)");
  add_fineness_option(options);
  add("no-report", po::bool_switch(), "do not write scatter.html");
  add("json", po::bool_switch(), "print scatter.json, and nothing else, on standard output");
}

const char* scatter_help() {
  return "Use: tidemark scatter CASE [options]\n"
         "     mpirun -n N tidemark scatter CASE [options]\n\n"
         "Fills the part many times, each time with a permeability, and whatever else [scatter]\n"
         "in the case names, drawn at random about its value there. Tells how likely a short fill\n"
         "and a dry spot are, how fill time and pressure spread, which input matters most, and\n"
         "where the part is often late or dry. Writes scatter.json, scatter.csv, scatter.vtu and\n"
         "scatter.html, a page to look at.\n"
         "Cut off by Ctrl-C or otherwise, the same command goes on where it was. Under mpirun\n"
         "each process fills one part at a time.\n\n"
         "Example:\n"
         "  tidemark scatter roof.toml --samples 400 --allow \"1 mL\"\n\n";
}

const char* scatter_exit_codes() {
  return "  0  done, and all samples fill\n"
         "  1  done, and some do not fill; or cut off before all were done\n";
}

void read_scatter_options(const po::variables_map& values, ScatterOptions& scatter) {
  const auto number = [&](const char* name, int lowest, int highest) {
    const auto text = text_of(values, name);
    return text ? std::optional(whole_number(std::string("--") + name, *text, lowest, highest))
                : std::nullopt;
  };
  scatter.samples = number("samples", 1, most_samples);
  scatter.seed = number("seed", 1, largest_seed);
  if (const auto volume = text_of(values, "allow")) {
    scatter.allowed = volume_above_zero("--allow", *volume);
  }
  scatter.threads = number("threads", 1, most_threads);
}

} // namespace tidemark
