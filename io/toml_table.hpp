// Typed reading of TOML tables: each function returns the value and its line, or says what is
// wrong and returns nothing.
#pragma once

#include "io/findings.hpp"
#include "io/quantity.hpp"

#include <Eigen/Core>
#include <toml++/toml.h>

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tidemark {

/// A value of the case file in SI, where it stands, and how the user wrote it.
template <class T> struct Given {
  T value;
  int line = 1;
  std::string text;
};
template <class T> using Maybe = std::optional<Given<T>>;

/// A table of the document and how the messages call it: "resin", "gate[G1]". A table that the
/// document lacks has no toml.
struct TomlTable {
  const toml::table* toml = nullptr;
  std::string key;
  int line = 1;
  Findings* findings = nullptr;
};

/// The key of a value in messages: "resin.viscosity"; just the name in the document itself.
std::string key_of(const TomlTable& table, std::string_view name);

/// The line of a value, or of the table if it has none of that name.
int line_of(const TomlTable& table, std::string_view name);

/// Whether the table has the key, whatever its value.
bool has(const TomlTable& table, std::string_view name);

/// An error for each key that is not known, with the nearest one that is. document: what to call a
/// table without a key.
void refuse_unknown_keys(const TomlTable& table, const std::vector<std::string>& known,
                         const char* document = "case");

/// An error if the key is missing: "found no such key, expected ...".
void require(const TomlTable& table, std::string_view name, std::string_view expected);

/// The table of that name; without toml if there is none. expected: what an error asks for instead
/// of anything else, if not a table [name].
TomlTable subtable(const TomlTable& table, const std::string& name,
                   const std::string& expected = "");

/// The tables [[name]], called name[NAME] by their own names or name[1], name[2] without.
std::vector<TomlTable> subtables(const TomlTable& table, const std::string& name);

/// The tables [name.X] within a table, called name[X] and each with its X, in the order of their
/// lines; an error for anything else.
std::vector<std::pair<std::string, TomlTable>> named_tables(const TomlTable& table,
                                                            const std::string& name);

/// Whether one table may stand for a list of one.
enum class OneTable { allowed, refused };

/// The tables of a list within a table, called by their number: injector.line[2]; one that stands
/// alone has no number. An empty list is an error, as is anything but tables.
std::vector<TomlTable> inner_tables(const TomlTable& table, const std::string& name, OneTable one,
                                    std::string_view expected);

Maybe<std::string> read_text(const TomlTable& table, std::string_view name,
                             std::string_view expected = "a text in quotes");
Maybe<bool> read_boolean(const TomlTable& table, std::string_view name);
Maybe<double> read_quantity(const TomlTable& table, std::string_view name, Dimension dimension);

/// One quantity or a list of at most `most`.
Maybe<std::vector<double>> read_quantities(const TomlTable& table, std::string_view name,
                                           Dimension dimension, std::size_t most);

/// One bare number or a list of at most `most`, not empty.
Maybe<std::vector<double>> read_numbers(const TomlTable& table, std::string_view name,
                                        std::size_t most, std::string_view expected);

/// One fraction or a list of at most `most`, not empty; each as for read_fraction.
Maybe<std::vector<double>> read_fractions(const TomlTable& table, std::string_view name,
                                          std::size_t most, std::string_view expected);

/// A whole number from 1 to `most`.
Maybe<int> read_count(const TomlTable& table, std::string_view name, int most);

/// A bare number, or a percentage in quotes.
Maybe<double> read_fraction(const TomlTable& table, std::string_view name);

/// A list of three finite numbers.
Maybe<Eigen::Vector3d> read_three_numbers(const TomlTable& table, std::string_view name,
                                          std::string_view expected);

/// A list of at least two lists of three finite numbers.
Maybe<std::vector<Eigen::Vector3d>> read_points(const TomlTable& table, std::string_view name,
                                                std::string_view expected);

/// A list of texts, not empty.
Maybe<std::vector<std::string>> read_texts(const TomlTable& table, std::string_view name,
                                           std::string_view expected);

} // namespace tidemark
