#include "io/window_options.hpp"

#include "io/command_options.hpp"
#include "io/quantity.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

namespace tidemark {

namespace {

namespace po = boost::program_options;

using Texts = std::vector<std::string>;

/// A value of two words, and no more: what follows is no part of it. One alone is taken too, to be
/// refused in words of ours.
class RangeValue : public po::typed_value<Texts> {
public:
  RangeValue() : po::typed_value<Texts>(nullptr) { value_name("LOW HIGH"); }
  [[nodiscard]] unsigned min_tokens() const override { return 1; }
  [[nodiscard]] unsigned max_tokens() const override { return 2; }
};

std::optional<std::array<double, 2>> range_of(const po::variables_map& values, const char* name,
                                              Dimension dimension, bool must_be_positive) {
  if (values.count(name) == 0) {
    return std::nullopt;
  }
  const std::string option = std::string("--") + name;
  const Texts& texts = values[name].as<Texts>();
  if (texts.size() != 2) {
    throw InputError(option + ": found " +
                     (texts.size() == 1 ? "one value, " + quoted_text(texts.front())
                                        : std::to_string(texts.size()) + " values") +
                     ", expected LOW and HIGH, such as " + option +
                     (dimension == Dimension::flow_rate ? " \"0.5 L/min\" \"3 L/min\""
                                                        : " \"0.5 bar\" \"3 bar\""));
  }
  std::array<double, 2> range{};
  for (std::size_t i = 0; i < 2; ++i) {
    range[i] = quantity_of(option, texts[i], dimension);
    if (must_be_positive && !(range[i] > 0)) {
      throw InputError(option + ": found " + quoted_text(texts[i]) + ", expected a " +
                       (dimension == Dimension::flow_rate ? "flow rate" : "value") + " above zero");
    }
  }
  if (!(range[0] < range[1])) {
    throw InputError(option + ": found " + quoted_text(texts[0]) + " and " + quoted_text(texts[1]) +
                     ", expected the low end of the range first, then a "
                     "higher one");
  }
  return range;
}

std::optional<double> share_of(const po::variables_map& values, const char* name, double lowest,
                               double highest, const std::string& expected) {
  if (values.count(name) == 0) {
    return std::nullopt;
  }
  const std::string option = std::string("--") + name;
  const std::string& text = values[name].as<std::string>();
  const double share = quantity_of(option, text, Dimension::fraction);
  if (!(share >= lowest && share <= highest)) {
    throw InputError(option + ": found " + quoted_text(text) + ", expected " + expected);
  }
  return share;
}

/// Values of the third axis, each once.
Texts values_of(const po::variables_map& values, const char* name, Dimension dimension) {
  const std::string option = std::string("--") + name;
  Texts texts = values.count(name) > 0 ? values[name].as<Texts>() : Texts{};
  std::vector<double> known;
  for (const std::string& text : texts) {
    const double value = quantity_of(option, text, dimension);
    for (std::size_t i = 0; i < known.size(); ++i) {
      if (known[i] == value) {
        throw InputError(option + ": found " + quoted_text(texts[i]) + " and " + quoted_text(text) +
                         ", expected each value once");
      }
    }
    known.push_back(value);
  }
  constexpr std::size_t most = 20;
  if (texts.size() > most) {
    throw InputError(option + ": found " + std::to_string(texts.size()) +
                     " values, expected at most " + std::to_string(most));
  }
  return texts;
}

} // namespace

void add_window_options(po::options_description& options) {
  auto add = options.add_options();
  const auto text = [](const char* name) { return po::value<std::string>()->value_name(name); };
  const auto texts = [](const char* name) {
    return po::value<Texts>()->composing()->value_name(name);
  };
  add("flow", new RangeValue,
      "flow rates tried, such as \"0.5 L/min\" \"3 L/min\" (left out: from half to twice the "
      "case's, as far as the machine goes)");
  add("cap", new RangeValue,
      "pressure caps tried, gauge, such as \"0.5 bar\" \"3 bar\" (left out: from half to twice the "
      "case's, counted from the air ahead of the resin, as far as the machine goes)");
  add("temperature", texts("T"),
      "a map at this temperature of the resin, in place of the case's; once per map");
  add("catalyst", texts("SHARE"),
      "a map at this level of catalyst, such as \"1.5 %\"; once per map, without --temperature");
  add("points", text("N"),
      "points of the grid along each axis (left out: 33 if they follow from the resistance curve, "
      "9 if each is a full run)");
  add("tolerance", text("SHARE"),
      "to which borders are sought, of the flow rate and of the cap above the air (left out: "
      "0.5 %)");
  add("mould-margin", text("SHARE"),
      "of the force that holds the mould shut, to be kept in hand (left out: none)");
  add("full-runs", po::bool_switch(),
      "fill in full at each point, even if the resistance curve would do");
  add("threads", text("N"), "full runs at once (left out: as many as the machine has cores)");
  add("output,o", text("DIR"),
      "folder for window.json, window.csv and window.html (left out: the case's name with .window, "
      "beside it)");
  add("steps", text("N"), "equal shares of the volume a filling is cut into (left out: 100)");
  add("time-limit", text("TIME"),
      "what is not full at this time after the start of injection is short (left out: that of the "
      "case, if it has one)");
  add_fineness_option(options);
  add("no-report", po::bool_switch(), "do not write window.html");
  add("json", po::bool_switch(), "print window.json, and nothing else, on standard output");
}

WindowOptions read_window_options(const po::variables_map& values) {
  WindowOptions options;
  options.flow = range_of(values, "flow", Dimension::flow_rate, true);
  options.cap = range_of(values, "cap", Dimension::pressure, false);
  options.temperatures = values_of(values, "temperature", Dimension::temperature);
  options.catalysts = values_of(values, "catalyst", Dimension::mass_share);
  if (!options.temperatures.empty() && !options.catalysts.empty()) {
    throw InputError("window: found --temperature and --catalyst, expected one of them");
  }
  if (values.count("points") > 0) {
    constexpr int most = 201;
    options.points = static_cast<std::size_t>(
        whole_number("--points", values["points"].as<std::string>(), 2, most));
  }
  options.tolerance = share_of(values, "tolerance", 1e-4, 0.2, "a share from 0.01 % to 20 %")
                          .value_or(options.tolerance);
  options.mould_margin = share_of(values, "mould-margin", 0, 0.95, "a share from 0 % to 95 %");
  options.full_runs = values["full-runs"].as<bool>();
  return options;
}

const char* window_help() {
  return "Use: tidemark window CASE [options]\n\n"
         "Tells which flow rates and pressure caps of the pump are safe: maps them against each\n"
         "other, with the fill time where the part fills, and where it is short and why, or the\n"
         "mould is pushed open. Seeks the setting in the middle of what is safe and its margins.\n"
         "One filling is enough where the resin has one viscosity at a time, all gates share one\n"
         "pump and nothing switches on the way; else every point is a full run, in parallel.\n"
         "Writes window.json, window.csv and window.html, a page to look at. Ctrl-C leaves whole\n"
         "files of what was tried; full runs that were done need not be done again when the same\n"
         "command is given again.\n\n"
         "Example:\n"
         "  tidemark window roof.toml --flow \"0.5 L/min\" \"3 L/min\" --cap \"0.5 bar\" \"3 "
         "bar\"\n\n";
}

} // namespace tidemark
