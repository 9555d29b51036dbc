#include "io/toml_table.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

const toml::node* find(const TomlTable& table, std::string_view name) {
  return table.toml == nullptr ? nullptr : table.toml->get(name);
}

int line_of(const toml::node& node) {
  return static_cast<int>(node.source().begin.line);
}

std::string as_written(const toml::node& node);

std::string list_as_written(const toml::array& array) {
  std::string text = "[";
  for (const toml::node& element : array) {
    text += (text.size() > 1 ? ", " : "") + as_written(element);
  }
  return text + "]";
}

/// A text without its quotes, a number as shortly as it can be said.
std::string as_written(const toml::node& node) {
  if (const auto* text = node.as_string()) {
    return text->get();
  }
  if (const auto* number = node.as_floating_point()) {
    return shortest(number->get());
  }
  if (const auto* number = node.as_integer()) {
    return std::to_string(number->get());
  }
  if (const auto* boolean = node.as_boolean()) {
    return boolean->get() ? "true" : "false";
  }
  return node.is_array() ? list_as_written(*node.as_array()) : "a table or date";
}

/// What stands there, for "found ...".
std::string description(const toml::node& node) {
  switch (node.type()) {
  case toml::node_type::table:
    return "a table";
  case toml::node_type::array:
    return node.as_array()->is_array_of_tables() ? "a list of tables" : "a list";
  case toml::node_type::string:
    return quoted_text(node.as_string()->get());
  case toml::node_type::integer:
  case toml::node_type::floating_point:
    return "the number " + as_written(node);
  case toml::node_type::boolean:
    return as_written(node);
  default:
    return "a date or time";
  }
}

bool is_unfilled(const toml::node& node) {
  const auto* text = node.as_string();
  return text != nullptr && text->get() == "?";
}

/// Not an error where the value is still to be filled in.
void add_error_at(const TomlTable& table, const toml::node& node, std::string_view name,
                  const std::string& found, std::string_view expected) {
  if (is_unfilled(node)) {
    add_unfilled(*table.findings, line_of(node), key_of(table, name), expected);
    return;
  }
  add_error(*table.findings, line_of(node), key_of(table, name),
            "found " + found + ", expected " + std::string(expected));
}

/// A quantity in quotes; an error about the whole value otherwise.
std::optional<double> quantity_in(const TomlTable& table, std::string_view name,
                                  const toml::node& node, Dimension dimension,
                                  const std::string& expected) {
  const auto* text = node.as_string();
  if (text == nullptr || is_unfilled(node)) {
    const std::string unit = node.is_number() ? " without a unit" : "";
    add_error_at(table, node, name, description(node) + unit, expected);
    return std::nullopt;
  }
  try {
    return parse_quantity(text->get(), dimension);
  } catch (const InputError& error) {
    add_error(*table.findings, line_of(node), key_of(table, name), error.what());
    return std::nullopt;
  }
}

std::optional<double> finite_number(const toml::node& node) {
  const auto number = node.value<double>();
  return node.is_number() && number && std::isfinite(*number) ? number : std::nullopt;
}

/// A bare number, or a percentage in quotes.
std::optional<double> fraction_in(const TomlTable& table, std::string_view name,
                                  const toml::node& node, std::string_view expected) {
  if (node.is_string()) {
    return quantity_in(table, name, node, Dimension::fraction, std::string(expected));
  }
  const auto number = finite_number(node);
  if (!number) {
    add_error_at(table, node, name, description(node), expected);
  }
  return number;
}

/// One value or a list of at most `most`, not empty; read(element) says what is wrong with one.
template <class Read>
Maybe<std::vector<double>> read_list(const TomlTable& table, std::string_view name,
                                     std::size_t most, std::string_view expected, Read read) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  Given<std::vector<double>> result{{}, line_of(*node), as_written(*node)};
  const toml::array* array = node->as_array();
  if (array == nullptr) {
    const auto value = read(*node);
    result.value.assign(value ? 1 : 0, value.value_or(0));
    return value ? Maybe<std::vector<double>>(result) : std::nullopt;
  }
  if (array->empty() || array->size() > most) {
    add_error_at(table, *node, name, "a list of " + std::to_string(array->size()),
                 std::string(expected) +
                     (most > 1 ? " or a list of at most " + std::to_string(most) : ""));
    return std::nullopt;
  }
  bool is_good = true;
  for (const toml::node& element : *array) {
    const auto value = read(element);
    is_good = is_good && value.has_value();
    result.value.push_back(value.value_or(0));
  }
  return is_good ? Maybe<std::vector<double>>(result) : std::nullopt;
}

/// Three numbers in a list; where: what an error adds for the list's own place.
std::optional<Eigen::Vector3d> three_numbers_in(const TomlTable& table, std::string_view name,
                                                const toml::node& node, std::string_view expected,
                                                const std::string& where) {
  const toml::array* array = node.as_array();
  if (array == nullptr || array->size() != 3) {
    const std::string found =
        array == nullptr ? description(node) : "a list of " + std::to_string(array->size());
    add_error_at(table, node, name, found + where, expected);
    return std::nullopt;
  }
  Eigen::Vector3d numbers;
  bool is_good = true;
  for (std::size_t i = 0; i < 3; ++i) {
    const toml::node& element = (*array)[i];
    const auto number = finite_number(element);
    if (!number && (is_good || is_unfilled(element))) { // of mistakes the first, of "?" each
      add_error_at(table, element, name, description(element) + " in the list", expected);
    }
    is_good = is_good && number;
    numbers[static_cast<Eigen::Index>(i)] = number.value_or(0);
  }
  return is_good ? std::optional(numbers) : std::nullopt;
}

TomlTable table_of(const TomlTable& parent, std::string key, const toml::table& toml) {
  return {&toml, std::move(key), line_of(toml), parent.findings};
}

/// As in a message, without the quotes.
std::string printable_name(std::string_view name) {
  const std::string quote = quoted_text(name);
  return quote.substr(1, quote.size() - 2);
}

std::string key_of_element(const std::string& name, const toml::node& element, std::size_t index) {
  const auto* table = element.as_table();
  const auto* own_name = table == nullptr ? nullptr : table->get_as<std::string>("name");
  const bool is_named = own_name != nullptr && !own_name->get().empty();
  return name + "[" + (is_named ? printable_name(own_name->get()) : std::to_string(index + 1)) +
         "]";
}

} // namespace

std::string key_of(const TomlTable& table, std::string_view name) {
  return (table.key.empty() ? "" : table.key + ".") + std::string(name);
}

int line_of(const TomlTable& table, std::string_view name) {
  const toml::node* node = find(table, name);
  return node == nullptr ? table.line : line_of(*node);
}

bool has(const TomlTable& table, std::string_view name) {
  return find(table, name) != nullptr;
}

void refuse_unknown_keys(const TomlTable& table, const std::vector<std::string>& known,
                         const char* document) {
  if (table.toml == nullptr) {
    return;
  }
  for (const auto& [key, node] : *table.toml) {
    const std::string name(key.str());
    if (std::ranges::find(known, name) != known.end()) {
      continue;
    }
    std::vector<std::string> nearest = nearest_words(name, known);
    std::ranges::transform(nearest, nearest.begin(), quoted_text);
    const std::string hint = nearest.empty() ? "one of " + list_of(known) : one_of(nearest);
    const std::string in = table.key.empty() ? document : table.key;
    add_error(*table.findings, static_cast<int>(key.source().begin.line), in,
              "found the unknown key " + quoted_text(name) + ", expected " + hint);
  }
}

void require(const TomlTable& table, std::string_view name, std::string_view expected) {
  if (table.toml != nullptr && !has(table, name)) {
    add_error(*table.findings, table.line, key_of(table, name),
              std::string("found no such ") + (table.key.empty() ? "table" : "key") +
                  ", expected " + std::string(expected));
  }
}

TomlTable subtable(const TomlTable& table, const std::string& name, const std::string& expected) {
  const toml::node* node = find(table, name);
  if (node != nullptr && !node->is_table()) {
    add_error_at(table, *node, name, description(*node),
                 expected.empty() ? "a table [" + name + "]" : expected);
  }
  if (node == nullptr || !node->is_table()) {
    return {nullptr, key_of(table, name), table.line, table.findings};
  }
  return table_of(table, key_of(table, name), *node->as_table());
}

std::vector<TomlTable> subtables(const TomlTable& table, const std::string& name) {
  const toml::node* node = find(table, name);
  std::vector<TomlTable> result;
  if (node == nullptr) {
    return result;
  }
  const std::string expected = "tables [[" + name + "]] in double brackets";
  const toml::array* array = node->as_array();
  if (array == nullptr) {
    add_error_at(table, *node, name, description(*node), expected);
    return result;
  }
  if (array->empty()) {
    add_error_at(table, *node, name, "an empty list", expected);
  }
  for (std::size_t i = 0; i < array->size(); ++i) {
    const toml::node& element = (*array)[i];
    if (const toml::table* toml = element.as_table()) {
      result.push_back(table_of(table, key_of_element(name, element, i), *toml));
    } else {
      add_error_at(table, element, name, description(element), expected);
    }
  }
  return result;
}

std::vector<std::pair<std::string, TomlTable>> named_tables(const TomlTable& table,
                                                            const std::string& name) {
  const toml::node* node = find(table, name);
  std::vector<std::pair<std::string, TomlTable>> result;
  if (node == nullptr) {
    return result;
  }
  const std::string expected = "tables [" + name + ".NAME]";
  if (!node->is_table()) {
    add_error_at(table, *node, name, description(*node), expected);
    return result;
  }
  for (const auto& [key, inner] : *node->as_table()) {
    const std::string own_name(key.str());
    if (const toml::table* toml = inner.as_table()) {
      const std::string called = key_of(table, name) + "[" + printable_name(own_name) + "]";
      result.emplace_back(own_name, table_of(table, called, *toml));
    } else {
      add_error_at(table, inner, name + "." + printable_name(own_name), description(inner),
                   expected);
    }
  }
  std::ranges::stable_sort(result, {}, [](const auto& named) { return named.second.line; });
  return result;
}

std::vector<TomlTable> inner_tables(const TomlTable& table, const std::string& name, OneTable one,
                                    std::string_view expected) {
  const toml::node* node = find(table, name);
  const std::string key = key_of(table, name);
  std::vector<TomlTable> result;
  if (node == nullptr) {
    return result;
  }
  if (node->is_table() && one == OneTable::allowed) {
    return {table_of(table, key, *node->as_table())};
  }
  const toml::array* array = node->as_array();
  if (array == nullptr || array->empty()) {
    add_error_at(table, *node, name, array == nullptr ? description(*node) : "an empty list",
                 expected);
    return result;
  }
  for (std::size_t i = 0; i < array->size(); ++i) {
    const toml::node& element = (*array)[i];
    if (const toml::table* toml = element.as_table()) {
      result.push_back(table_of(table, key + "[" + std::to_string(i + 1) + "]", *toml));
    } else {
      add_error_at(table, element, name, description(element) + " in the list", expected);
    }
  }
  return result;
}

Maybe<std::string> read_text(const TomlTable& table, std::string_view name,
                             std::string_view expected) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  const auto* text = node->as_string();
  if (text != nullptr && !is_unfilled(*node)) {
    return Given<std::string>{text->get(), line_of(*node), text->get()};
  }
  add_error_at(table, *node, name, description(*node), expected);
  return std::nullopt;
}

Maybe<bool> read_boolean(const TomlTable& table, std::string_view name) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  if (const auto* value = node->as_boolean()) {
    return Given<bool>{value->get(), line_of(*node), as_written(*node)};
  }
  add_error_at(table, *node, name, description(*node), "true or false");
  return std::nullopt;
}

Maybe<double> read_quantity(const TomlTable& table, std::string_view name, Dimension dimension,
                            std::string_view expected) {
  const toml::node* node = find(table, name);
  const std::string what = expected.empty() ? example_of(dimension) : std::string(expected);
  const auto value =
      node == nullptr ? std::nullopt : quantity_in(table, name, *node, dimension, what);
  return value ? Maybe<double>({*value, line_of(*node), as_written(*node)}) : std::nullopt;
}

Maybe<std::vector<double>> read_quantities(const TomlTable& table, std::string_view name,
                                           Dimension dimension, std::size_t most) {
  return read_list(table, name, most, example_of(dimension), [&](const toml::node& element) {
    return quantity_in(table, name, element, dimension, example_of(dimension));
  });
}

Maybe<std::vector<double>> read_numbers(const TomlTable& table, std::string_view name,
                                        std::size_t most, std::string_view expected) {
  return read_list(table, name, most, expected, [&](const toml::node& element) {
    const auto number = finite_number(element);
    if (!number) {
      add_error_at(table, element, name, description(element), expected);
    }
    return number;
  });
}

Maybe<std::vector<double>> read_fractions(const TomlTable& table, std::string_view name,
                                          std::size_t most, std::string_view expected) {
  return read_list(table, name, most, expected, [&](const toml::node& element) {
    return fraction_in(table, name, element, expected);
  });
}

Maybe<int> read_count(const TomlTable& table, std::string_view name, int most) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  const auto* number = node->as_integer();
  if (number == nullptr || number->get() < 1 || number->get() > most) {
    add_error_at(table, *node, name, description(*node),
                 "a whole number from 1 to " + std::to_string(most));
    return std::nullopt;
  }
  return Given<int>{static_cast<int>(number->get()), line_of(*node), as_written(*node)};
}

Maybe<double> read_fraction(const TomlTable& table, std::string_view name) {
  const toml::node* node = find(table, name);
  const auto value = node == nullptr
                         ? std::nullopt
                         : fraction_in(table, name, *node, "a number such as 0.8 or \"80 %\"");
  return value ? Maybe<double>({*value, line_of(*node), as_written(*node)}) : std::nullopt;
}

Maybe<Eigen::Vector3d> read_three_numbers(const TomlTable& table, std::string_view name,
                                          std::string_view expected) {
  const toml::node* node = find(table, name);
  const auto numbers =
      node == nullptr ? std::nullopt : three_numbers_in(table, name, *node, expected, "");
  return numbers ? Maybe<Eigen::Vector3d>({*numbers, line_of(*node), as_written(*node)})
                 : std::nullopt;
}

Maybe<std::vector<Eigen::Vector3d>> read_points(const TomlTable& table, std::string_view name,
                                                std::string_view expected) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  const toml::array* array = node->as_array();
  if (array == nullptr || array->size() < 2) {
    const std::string found =
        array == nullptr ? description(*node) : "a list of " + std::to_string(array->size());
    add_error_at(table, *node, name, found, expected);
    return std::nullopt;
  }
  Given<std::vector<Eigen::Vector3d>> result{{}, line_of(*node), as_written(*node)};
  for (const toml::node& element : *array) {
    const auto point = three_numbers_in(table, name, element, expected, " in the list");
    if (!point) {
      return std::nullopt;
    }
    result.value.push_back(*point);
  }
  return result;
}

Maybe<std::vector<std::string>> read_texts(const TomlTable& table, std::string_view name,
                                           std::string_view expected) {
  const toml::node* node = find(table, name);
  if (node == nullptr) {
    return std::nullopt;
  }
  const toml::array* array = node->as_array();
  if (array == nullptr || array->empty()) {
    const std::string found = array == nullptr ? description(*node) : "an empty list";
    add_error_at(table, *node, name, found, expected);
    return std::nullopt;
  }
  Given<std::vector<std::string>> result{{}, line_of(*node), as_written(*node)};
  for (const toml::node& element : *array) {
    const auto* text = element.as_string();
    if (text == nullptr || is_unfilled(element)) {
      add_error_at(table, element, name, description(element) + " in the list", expected);
      return std::nullopt;
    }
    result.value.push_back(text->get());
  }
  return result;
}

} // namespace tidemark
