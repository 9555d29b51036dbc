#include "io/raw_resin.hpp"

#include "io/raw_name.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr std::size_t most_points = 1000; // of a table

const char* const viscosities_example =
    "viscosities such as [\"300 mPa.s\", \"180 mPa.s\"], one for each of the other list";
const char* const temperatures_example =
    "temperatures from the lowest to the highest such as [\"15 degC\", \"25 degC\"]";
const char* const initial_example =
    "the viscosity of the fresh resin such as \"200 mPa.s\", or a law over the temperature";
const char* const energy_example = "an activation energy such as \"45 kJ/mol\"";

bool is_table(const TomlTable& table, const char* name) {
  return table.toml != nullptr && (*table.toml)[name].is_table();
}

Maybe<double> read_needed(const TomlTable& table, const char* name, Dimension dimension,
                          const std::string& expected) {
  require(table, name, expected);
  return read_quantity(table, name, dimension);
}

Maybe<std::vector<double>> read_needed_list(const TomlTable& table, const char* name,
                                            Dimension dimension, const char* expected) {
  require(table, name, expected);
  return read_quantities(table, name, dimension, most_points);
}

/// Two values, lowest first.
Maybe<std::vector<double>> read_two(const TomlTable& table, const char* name, Dimension dimension,
                                    const std::string& expected) {
  auto two = read_quantities(table, name, dimension, 2);
  if (two && (two->value.size() != 2 || !(two->value[0] < two->value[1]))) {
    add_error(*table.findings, two->line, key_of(table, name),
              "found " + found_list(two->text) + ", expected " + expected);
    two.reset();
  }
  return two;
}

// --- viscosity ---------------------------------------------------------------------------------

void read_viscosity_table(const TomlTable& table, RawViscosityLaw& law, bool may_age) {
  refuse_unknown_keys(table,
                      may_age ? std::vector<std::string>{"law", "temperature", "age", "viscosity"}
                              : std::vector<std::string>{"law", "temperature", "viscosity"});
  const bool has_age = may_age && has(table, "age");
  if (may_age && has_age == has(table, "temperature")) {
    add_error(*table.findings, table.line, table.key,
              std::string("found ") +
                  (has_age ? "both temperature and" : "neither temperature nor") +
                  " age, expected a table over one of them");
  } else if (!may_age) {
    require(table, "temperature", temperatures_example);
  }
  law.temperature = read_quantities(table, "temperature", Dimension::temperature, most_points);
  if (may_age) {
    law.age = read_quantities(table, "age", Dimension::time, most_points);
  }
  law.viscosity = read_needed_list(table, "viscosity", Dimension::viscosity, viscosities_example);
}

void read_arrhenius(const TomlTable& table, RawViscosityLaw& law) {
  refuse_unknown_keys(table, {"law", "viscosity", "at", "activation_energy", "valid"});
  require(table, "viscosity", "the viscosity at one temperature such as \"200 mPa.s\"");
  law.viscosity = read_quantities(table, "viscosity", Dimension::viscosity, 1);
  law.at = read_needed(table, "at", Dimension::temperature,
                       "the temperature of that viscosity such as \"25 degC\"");
  law.activation_energy =
      read_needed(table, "activation_energy", Dimension::molar_energy, energy_example);
  const char* const expected = "the lowest and highest temperature the law holds for such as "
                               "[\"15 degC\", \"35 degC\"]";
  require(table, "valid", expected);
  law.valid = read_two(table, "valid", Dimension::temperature, expected);
}

RawViscosityLaw read_viscosity_law(const TomlTable& table, bool may_age);

/// The viscosity of the fresh resin, which a law of thickening starts from.
void read_initial(const TomlTable& table, RawViscosityLaw& law) {
  require(table, "initial", initial_example);
  if (is_table(table, "initial")) {
    law.initial_law.push_back(read_viscosity_law(subtable(table, "initial"), false));
  } else {
    law.initial = read_quantity(table, "initial", Dimension::viscosity);
  }
}

void read_exponential(const TomlTable& table, RawViscosityLaw& law) {
  refuse_unknown_keys(table, {"law", "initial", "time_constant"});
  read_initial(table, law);
  law.time_constant = read_needed(table, "time_constant", Dimension::time,
                                  "the time in which the viscosity grows by the factor e such as "
                                  "\"10 min\"");
}

void read_power_to_gel(const TomlTable& table, RawViscosityLaw& law) {
  refuse_unknown_keys(table, {"law", "initial", "exponent"});
  read_initial(table, law);
  const char* const expected = "a number above 0 such as 1.5";
  require(table, "exponent", expected);
  law.exponent = read_numbers(table, "exponent", 1, expected);
}

void read_castro_macosko(const TomlTable& table, RawViscosityLaw& law) {
  refuse_unknown_keys(table, {"law", "initial", "exponents"});
  read_initial(table, law);
  const char* const expected = "a and b of (alpha_gel / (alpha_gel - alpha))^(a + b alpha) in a "
                               "list such as [1.5, 1]";
  require(table, "exponents", expected);
  law.exponent = read_numbers(table, "exponents", 2, expected);
  if (law.exponent && law.exponent->value.size() != 2) {
    add_error(*table.findings, law.exponent->line, key_of(table, "exponents"),
              "found " + law.exponent->text + ", expected " + expected);
    law.exponent.reset();
  }
}

/// may_age: laws in which the viscosity rises with age are among those known.
RawViscosityLaw read_viscosity_law(const TomlTable& table, bool may_age) {
  RawViscosityLaw law;
  law.key = table.key;
  law.line = table.line;
  std::vector<std::string> known{"table", "arrhenius"};
  if (may_age) {
    known.insert(known.end(), {"exponential", "power-to-gel", "cure"});
  }
  law.law = read_word(table, known, "law");
  const std::string name = law.law ? law.law->value : "";
  if (name == "table") {
    read_viscosity_table(table, law, may_age);
  } else if (name == "arrhenius") {
    read_arrhenius(table, law);
  } else if (name == "exponential") {
    read_exponential(table, law);
  } else if (name == "power-to-gel") {
    read_power_to_gel(table, law);
  } else if (name == "cure") {
    read_castro_macosko(table, law);
  }
  return law;
}

// --- gel and cure ------------------------------------------------------------------------------

const char* const rows_example =
    "a list of gel times for each temperature, one for each catalyst level, such as "
    "[[\"40 min\", \"25 min\"], [\"20 min\", \"12 min\"]]";

/// A list of lists of times.
Maybe<std::vector<std::vector<double>>> read_rows(const TomlTable& table, const char* name) {
  require(table, name, rows_example);
  if (!has(table, name)) {
    return std::nullopt;
  }
  const int line = line_of(table, name);
  const auto refuse = [&](const std::string& text) {
    add_error(*table.findings, line, key_of(table, name), text);
    return std::nullopt;
  };
  const toml::array* rows = (*table.toml)[name].as_array();
  if (rows == nullptr || rows->empty() || rows->size() > most_points) {
    return refuse(std::string("found no such list, expected ") + rows_example);
  }
  Given<std::vector<std::vector<double>>> result{{}, line, "["};
  for (const toml::node& row : *rows) {
    const toml::array* times = row.as_array();
    if (times == nullptr || times->empty() || times->size() > most_points) {
      return refuse(std::string("found no list in the list, expected ") + rows_example);
    }
    result.text += result.value.empty() ? "[" : "], [";
    result.value.emplace_back();
    for (const toml::node& time : *times) {
      const auto* text = time.as_string();
      if (text == nullptr) {
        return refuse("found a value without a unit in the list, expected " +
                      example_of(Dimension::time));
      }
      try {
        result.value.back().push_back(parse_quantity(text->get(), Dimension::time));
      } catch (const InputError& error) {
        return refuse(error.what());
      }
      result.text += (result.value.back().size() > 1 ? ", " : "") + quoted_text(text->get());
    }
  }
  result.text += "]]";
  return result;
}

RawGelTable read_gel_table(const TomlTable& table) {
  refuse_unknown_keys(table, {"temperature", "catalyst", "time"});
  RawGelTable gel;
  gel.key = table.key;
  gel.line = table.line;
  gel.temperature =
      read_needed_list(table, "temperature", Dimension::temperature, temperatures_example);
  gel.catalyst = read_needed_list(table, "catalyst", Dimension::mass_share,
                                  "catalyst levels by mass of the resin from the lowest to the "
                                  "highest such as [\"1 %\", \"2 %\"]");
  gel.time = read_rows(table, "time");
  return gel;
}

RawRate read_rate(const TomlTable& table, const char* name) {
  const char* const expected = "a rate such as \"0.002 s-1\", or { factor = \"4e5 s-1\", "
                               "activation_energy = \"50 kJ/mol\" }";
  require(table, name, expected);
  RawRate rate;
  rate.key = key_of(table, name);
  if (!is_table(table, name)) {
    rate.value = read_quantity(table, name, Dimension::rate);
    return rate;
  }
  const TomlTable inner = subtable(table, name);
  refuse_unknown_keys(inner, {"factor", "activation_energy"});
  rate.factor = read_needed(inner, "factor", Dimension::rate, "a rate such as \"4e5 s-1\"");
  rate.activation_energy =
      read_needed(inner, "activation_energy", Dimension::molar_energy, energy_example);
  return rate;
}

RawCure read_cure(const TomlTable& table) {
  RawCure cure;
  cure.key = table.key;
  cure.line = table.line;
  cure.law = read_word(table, {"first-order", "autocatalytic"}, "law");
  if (!cure.law) {
    return cure;
  }
  const char* const gel_example = "the conversion at which the resin gels such as 0.6";
  if (cure.law->value == "first-order") {
    refuse_unknown_keys(table, {"law", "rate", "gel_conversion"});
    cure.rates = {read_rate(table, "rate")};
  } else {
    refuse_unknown_keys(table, {"law", "rate_1", "rate_2", "exponents", "gel_conversion"});
    cure.rates = {read_rate(table, "rate_1"), read_rate(table, "rate_2")};
    const char* const expected =
        "m and n of (k1 + k2 alpha^m) (1 - alpha)^n in a list such as [1, 1]";
    require(table, "exponents", expected);
    cure.exponents = read_numbers(table, "exponents", 2, expected);
    if (cure.exponents && cure.exponents->value.size() != 2) {
      add_error(*table.findings, cure.exponents->line, key_of(table, "exponents"),
                "found " + cure.exponents->text + ", expected " + expected);
      cure.exponents.reset();
    }
  }
  require(table, "gel_conversion", gel_example);
  cure.gel_conversion = read_fraction(table, "gel_conversion");
  return cure;
}

void read_gel(const TomlTable& table, RawResin& resin) {
  if (is_table(table, "gel_time")) {
    resin.gel_table = read_gel_table(subtable(table, "gel_time"));
  } else {
    resin.gel_time = read_quantity(table, "gel_time", Dimension::time);
  }
  if (!has(table, "cure")) {
    return;
  }
  const TomlTable cure =
      subtable(table, "cure",
               "a law such as { law = \"first-order\", rate = \"0.001 s-1\", gel_conversion "
               "= 0.6 }");
  if (cure.toml != nullptr) {
    resin.cure = read_cure(cure);
  }
  if (has(table, "gel_time")) {
    add_error(*table.findings, line_of(table, "gel_time"), key_of(table, "gel_time"),
              "found it beside cure, expected one of the two: the gel follows from gel_conversion");
  }
}

bool law_needs_temperature(const RawViscosityLaw& law) {
  const bool own = law.law && (law.law->value == "arrhenius" ||
                               (law.law->value == "table" && !law.is_over_age()));
  return own || std::ranges::any_of(law.initial_law, law_needs_temperature);
}

} // namespace

RawResin read_resin(const TomlTable& table) {
  refuse_unknown_keys(table,
                      {"viscosity", "density", "gel_time", "cure", "catalyst", "catalyst_range",
                       "catalyst_density", "gel_safety", "waste", "price"});
  require(table, "viscosity", example_of(Dimension::viscosity));
  RawResin resin;
  resin.line = table.line;
  if (is_table(table, "viscosity")) {
    resin.law = read_viscosity_law(subtable(table, "viscosity"), true);
  } else {
    resin.viscosity = read_quantity(table, "viscosity", Dimension::viscosity);
  }
  resin.density = read_quantity(table, "density", Dimension::density);
  resin.has_density = has(table, "density");
  read_gel(table, resin);
  resin.catalyst = read_quantity(table, "catalyst", Dimension::mass_share);
  resin.has_catalyst = has(table, "catalyst");
  resin.catalyst_range =
      read_two(table, "catalyst_range", Dimension::mass_share,
               "the lowest and highest level the resin's data sheet allows such as [\"1 %\", \"3 "
               "%\"]");
  resin.catalyst_density = read_quantity(table, "catalyst_density", Dimension::density);
  const char* const safety = "a number such as 1.25: gel time over the age of the oldest resin";
  if (const auto factor = read_numbers(table, "gel_safety", 1, safety)) {
    resin.gel_safety = Given<double>{factor->value.front(), factor->line, factor->text};
  }
  resin.waste = read_fraction(table, "waste");
  resin.price = read_price(table, "price", {Dimension::mass, Dimension::volume});
  return resin;
}

bool thickens(const RawResin& resin) {
  if (!resin.law || !resin.law->law) {
    return false;
  }
  const std::string& law = resin.law->law->value;
  return law != "arrhenius" && (law != "table" || resin.law->is_over_age());
}

std::string what_needs_temperature(const RawResin& resin) {
  if (resin.law && law_needs_temperature(*resin.law)) {
    return "resin.viscosity";
  }
  if (resin.gel_table) {
    return "resin.gel_time";
  }
  const bool has_energy =
      resin.cure && std::ranges::any_of(resin.cure->rates,
                                        [](const auto& rate) { return rate.factor.has_value(); });
  return has_energy ? "resin.cure" : "";
}

} // namespace tidemark
