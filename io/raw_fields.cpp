#include "io/raw_fields.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

namespace tidemark {

namespace {

/// The unit of an array's numbers in SI; 0 after an error.
double read_unit(const TomlTable& table, Dimension dimension, std::string& name) {
  if (dimension == Dimension::fraction && !has(table, "unit")) {
    return 1;
  }
  const std::string expected =
      dimension == Dimension::length  ? "the unit of the array's numbers such as \"mm\""
      : dimension == Dimension::angle ? "the unit of the array's numbers such as \"deg\""
                                      : "the unit of the array's numbers";
  require(table, "unit", expected);
  const auto unit = read_text(table, "unit", expected);
  if (!unit) {
    return 0;
  }
  name = unit->text;
  try {
    return parse_unit(unit->value, dimension);
  } catch (const InputError& error) {
    add_error(*table.findings, unit->line, key_of(table, "unit"), error.what());
    return 0;
  }
}

} // namespace

bool is_array_given(const TomlTable& table, std::string_view name) {
  return table.toml != nullptr && table.toml->get(name) != nullptr &&
         table.toml->get(name)->is_table();
}

std::optional<RawArray> read_array(const TomlTable& table, const std::string& name,
                                   std::optional<Dimension> dimension) {
  if (!is_array_given(table, name)) {
    return std::nullopt;
  }
  const TomlTable given = subtable(table, name);
  if (dimension) {
    refuse_unknown_keys(given, {"array", "unit"});
  } else {
    refuse_unknown_keys(given, {"array"});
  }
  const char* const expected = "the name of an array on the elements of the mesh (cell data)";
  require(given, "array", expected);
  RawArray result;
  result.key = given.key;
  result.line = given.line;
  result.array = read_text(given, "array", expected);
  result.unit = dimension ? read_unit(given, *dimension, result.unit_name) : 1;
  result.is_readable = result.array && result.unit > 0;
  if (result.array) {
    result.text = "array " + quoted_text(result.array->value) + " of the mesh" +
                  (result.unit_name.empty() ? "" : ", in " + result.unit_name);
  }
  return result;
}

std::optional<RawDrape> read_drape(const TomlTable& region) {
  const TomlTable table =
      subtable(region, "drape", "a table such as { start = [0, 0, 120], direction = [1, 0, 0] }");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"start", "direction", "step"});
  require(table, "start",
          "the point in mesh units where the cloth first touches such as [0, 0, 120]");
  require(table, "direction", "where the warp points there such as [1, 0, 0]");
  return RawDrape{table.key, table.line,
                  read_three_numbers(table, "start", "three numbers such as [0, 0, 120]"),
                  read_three_numbers(table, "direction", "three numbers such as [1, 0, 0]"),
                  read_quantity(table, "step", Dimension::length)};
}

} // namespace tidemark
