#include "io/quantity.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <udunits2.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <memory>
#include <mutex>
#include <optional>

namespace tidemark {

namespace {

struct DimensionFacts {
  Dimension dimension;
  const char* si_unit;
  const char* name;
  const char* example;
  const char* unit_example;
};

/// Area before permeability: that is what a text in m2 is called where something else is due.
constexpr std::array<DimensionFacts, 22> all_dimensions{{
    {Dimension::length, "m", "a length", "4 mm", "mm"},
    {Dimension::area, "m2", "an area", "0.25 m2", "m2"},
    {Dimension::permeability, "m2", "a permeability", "3e-9 m2", "m2"},
    {Dimension::pressure, "Pa", "a pressure", "1.2 bar", "bar"},
    {Dimension::viscosity, "Pa.s", "a viscosity", "180 mPa.s", "mPa.s"},
    {Dimension::flow_rate, "m3/s", "a flow rate", "1.5 L/min", "L/min"},
    {Dimension::temperature, "K", "a temperature", "21 degC", "degC"},
    {Dimension::time, "s", "a time", "25 min", "min"},
    {Dimension::angle, "rad", "an angle", "30 deg", "deg"},
    {Dimension::density, "kg/m3", "a density", "1100 kg/m3", "kg/m3"},
    {Dimension::areal_weight, "kg/m2", "an areal weight", "450 g/m2", "g/m2"},
    {Dimension::fraction, "1", "a fraction", "35 %", "%"},
    {Dimension::volume, "m3", "a volume", "50 mL", "mL"},
    {Dimension::force, "N", "a force", "20 kN", "kN"},
    {Dimension::acceleration, "m/s2", "an acceleration", "9.81 m/s2", "m/s2"},
    {Dimension::mass, "kg", "a mass", "25 kg", "kg"},
    {Dimension::mass_share, "1", "a share by mass of the resin", "1.5 %", "%"},
    {Dimension::molar_energy, "J/mol", "an energy per amount", "45 kJ/mol", "kJ/mol"},
    {Dimension::rate, "s-1", "a rate", "0.002 s-1", "s-1"},
    {Dimension::heat_transfer, "W m-2 K-1", "a heat transfer coefficient", "200 W/m2/K", "W/m2/K"},
    {Dimension::specific_heat, "J kg-1 K-1", "a specific heat", "1800 J/kg/K", "J/kg/K"},
    {Dimension::specific_energy, "J/kg", "a heat per mass", "300 kJ/kg", "kJ/kg"},
}};

const DimensionFacts& facts_of(Dimension dimension) {
  return *std::ranges::find(all_dimensions, dimension, &DimensionFacts::dimension);
}

struct Freed {
  void operator()(ut_system* system) const { ut_free_system(system); }
  void operator()(ut_unit* unit) const { ut_free(unit); }
  void operator()(cv_converter* converter) const { cv_free(converter); }
};
using UnitSystem = std::unique_ptr<ut_system, Freed>;
using Unit = std::unique_ptr<ut_unit, Freed>;
using Converter = std::unique_ptr<cv_converter, Freed>;

Unit parsed(const UnitSystem& system, const std::string& text) {
  return Unit(ut_parse(system.get(), text.c_str(), UT_UTF8));
}

/// UDUNITS knows neither deg nor the P of cP, nor parts per hundred of resin, which data sheets
/// use.
void add_shop_symbols(const UnitSystem& system) {
  ut_map_symbol_to_unit("deg", UT_UTF8, parsed(system, "degree").get());
  ut_map_symbol_to_unit("P", UT_UTF8, parsed(system, "poise").get());
  ut_map_symbol_to_unit("phr", UT_UTF8, parsed(system, "percent").get());
}

/// The unit system, loaded once. UDUNITS keeps its status and its parser's state in globals, so
/// every call here is made under units_mutex.
const UnitSystem& unit_system() {
  static const UnitSystem system = [] {
    ut_set_error_message_handler(ut_ignore);
    UnitSystem loaded(ut_read_xml(nullptr));
    if (!loaded) {
      throw FileError("the unit database of UDUNITS-2 cannot be read; expected it where the "
                      "library was installed or where UDUNITS2_XML_PATH points");
    }
    add_shop_symbols(loaded);
    return loaded;
  }();
  return system;
}

std::mutex& units_mutex() {
  static std::mutex mutex;
  return mutex;
}

bool is_letter(char letter) {
  const auto code = static_cast<unsigned char>(letter);
  return std::isalpha(code) != 0 || letter == '%' || code >= 0x80; // beyond ASCII: degrees, micro
}

bool is_digit(char letter) {
  return std::isdigit(static_cast<unsigned char>(letter)) != 0;
}

bool may_follow(char letter, char before, bool before_digit) {
  if (is_digit(letter)) {
    return is_letter(before) || before == '^' || before == '-';
  }
  if (letter == '-') {
    return (is_letter(before) || before == '^') && before_digit;
  }
  if (letter == '^') {
    return is_letter(before);
  }
  return is_letter(letter) || letter == '.' || letter == '/' || letter == '*' || letter == ' ';
}

/// UDUNITS also reads "bar 3", "bar/60", "bar @ 1" or "days since 2000": none is a plain unit, and
/// each is far more likely a slip. Digits are exponents: after a letter, ^ or the minus of one.
bool is_plain(std::string_view unit) {
  constexpr std::size_t longest = 40;
  if (unit.empty() || unit.size() > longest || !is_letter(unit.front())) {
    return false;
  }
  for (std::size_t i = 1; i < unit.size(); ++i) {
    const bool before_digit = i + 1 < unit.size() && is_digit(unit[i + 1]);
    if (!may_follow(unit[i], unit[i - 1], before_digit)) {
      return false;
    }
  }
  return std::ranges::count(unit, '/') <= 2 && unit.find("//") == std::string_view::npos;
}

/// Whether the unit is a multiple of the SI unit of the dimension. ut_are_convertible will not do:
/// it also takes 1/m for a length and a percentage for an angle.
bool measures(const Unit& unit, const DimensionFacts& facts) {
  const Unit si = parsed(unit_system(), facts.si_unit);
  const Unit quotient(ut_divide(unit.get(), si.get()));
  if (!quotient || ut_is_dimensionless(quotient.get()) == 0) {
    return false;
  }
  std::array<char, 256> text{};
  const int length =
      ut_format(quotient.get(), text.data(), text.size() - 1, UT_ASCII | UT_DEFINITION);
  return length >= 0 && std::string_view(text.data()).find("rad") == std::string_view::npos;
}

/// The value in SI; none if the unit is of another dimension.
std::optional<double> converted(double value, const Unit& unit, const DimensionFacts& facts) {
  if (!measures(unit, facts)) {
    return std::nullopt;
  }
  const Unit si = parsed(unit_system(), facts.si_unit);
  const Converter converter(ut_get_converter(unit.get(), si.get()));
  return converter ? std::optional(cv_convert_double(converter.get(), value)) : std::nullopt;
}

std::string name_of_dimension(const Unit& unit) {
  for (const DimensionFacts& facts : all_dimensions) {
    if (measures(unit, facts)) {
      return facts.name;
    }
  }
  return {};
}

[[noreturn]] void refuse(const std::string& found, const std::string& expected) {
  throw InputError("found " + found + ", expected " + expected);
}

/// What people write on machines and drums, and what it is called here.
struct ShopWord {
  std::string_view word, unit; // the word in small letters
  Dimension dimension;
};

constexpr std::array<ShopWord, 17> shop_words{{{"lpm", "L/min", Dimension::flow_rate},
                                               {"slpm", "L/min", Dimension::flow_rate},
                                               {"cc/min", "cm3/min", Dimension::flow_rate},
                                               {"cps", "cP", Dimension::viscosity},
                                               {"mpas", "mPa.s", Dimension::viscosity},
                                               {"gsm", "g/m2", Dimension::areal_weight},
                                               {"cc", "cm3", Dimension::volume},
                                               {"ccm", "cm3", Dimension::volume},
                                               {"ltr", "L", Dimension::volume},
                                               {"mins", "min", Dimension::time},
                                               {"secs", "s", Dimension::time},
                                               {"hrs", "h", Dimension::time},
                                               {"c", "degC", Dimension::temperature},
                                               {"deg c", "degC", Dimension::temperature},
                                               {"deg", "degC", Dimension::temperature},
                                               {"f", "degF", Dimension::temperature},
                                               {"deg f", "degF", Dimension::temperature}}};

/// " (did you mean L/min?)", or nothing.
std::string meant_text(std::string_view unit, Dimension dimension) {
  std::string word(unit);
  std::ranges::transform(word, word.begin(),
                         [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  for (const ShopWord& known : shop_words) {
    if (known.word == word && known.dimension == dimension) {
      return " (did you mean " + std::string(known.unit) + "?)";
    }
  }
  return "";
}

[[noreturn]] void refuse_unknown_unit(const std::string& found, std::string_view unit,
                                      Dimension dimension, const std::string& expected) {
  const char* const gauge = dimension == Dimension::pressure
                                ? " (pressures are gauge without saying so: 0 bar = atmosphere)"
                                : "";
  refuse(found + ", whose unit " + quoted_text(unit) + " is not known" +
             meant_text(unit, dimension),
         expected + gauge);
}

double in_si(double value, std::string_view unit_text, const std::string& found,
             Dimension dimension, const std::string& expected) {
  if (!is_plain(unit_text)) {
    refuse_unknown_unit(found, unit_text, dimension, expected);
  }
  const std::scoped_lock lock(units_mutex());
  const Unit unit = parsed(unit_system(), std::string(unit_text));
  if (!unit) {
    refuse_unknown_unit(found, unit_text, dimension, expected);
  }
  const auto si = converted(value, unit, facts_of(dimension));
  if (!si) {
    const std::string other = name_of_dimension(unit);
    refuse(found +
               (other.empty() ? ", whose unit measures something else" : ", which is " + other) +
               meant_text(unit_text, dimension),
           expected);
  }
  if (!std::isfinite(*si)) {
    refuse(found + ", which is not a finite number", expected);
  }
  return *si;
}

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  const std::size_t last = text.find_last_not_of(" \t");
  return first == std::string_view::npos ? std::string_view{}
                                         : text.substr(first, last - first + 1);
}

} // namespace

std::string example_of(Dimension dimension) {
  const DimensionFacts& facts = facts_of(dimension);
  return std::string(facts.name) + " such as \"" + facts.example + "\"";
}

double parse_unit(std::string_view unit, Dimension dimension) {
  const DimensionFacts& facts = facts_of(dimension);
  const std::string expected =
      "the unit of " + std::string(facts.name) + " such as \"" + facts.unit_example + "\"";
  return in_si(1, trimmed(unit), quoted_text(unit), dimension, expected);
}

double parse_quantity(std::string_view text, Dimension dimension) {
  const std::string expected = example_of(dimension);
  std::string_view rest = trimmed(text);
  if (rest.size() > 1 && rest[0] == '+' && rest[1] != '-') {
    rest.remove_prefix(1);
  }
  double value = 0;
  const auto [end, fault] = std::from_chars(rest.data(), rest.data() + rest.size(), value);
  if (fault == std::errc::invalid_argument) {
    refuse(quoted_text(text) + ", which does not start with a number", expected);
  }
  if (fault == std::errc::result_out_of_range || !std::isfinite(value)) {
    refuse(quoted_text(text) + ", which is not a finite number", expected);
  }
  rest.remove_prefix(static_cast<std::size_t>(end - rest.data()));
  if (rest.size() > 1 && rest[0] == ',' && is_digit(rest[1])) {
    refuse(quoted_text(text) + " with a comma", expected + ", with a decimal point");
  }
  rest = trimmed(rest);
  if (rest.empty()) {
    refuse(quoted_text(text) + " without a unit", expected);
  }
  return in_si(value, rest, quoted_text(text), dimension, expected);
}

} // namespace tidemark
