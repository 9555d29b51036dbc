#include "io/price.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <charconv>
#include <cmath>
#include <optional>

namespace tidemark {

namespace {

constexpr double highest_price = 1e9; // own choice: far above any

const char* example_per(Dimension dimension) {
  switch (dimension) {
  case Dimension::area:
    return "\"3.20 per m2\"";
  case Dimension::mass:
    return "\"4.10 per kg\"";
  default:
    return "\"4500 per m3\"";
  }
}

std::string expected_price(const std::vector<Dimension>& dimensions) {
  std::string examples;
  for (const Dimension dimension : dimensions) {
    examples += (examples.empty() ? "" : " or ") + std::string(example_per(dimension));
  }
  return "a price such as " + examples;
}

std::string_view without_blanks(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  return first == std::string_view::npos ? std::string_view{} : text.substr(first);
}

/// What follows "per " or "/"; none if neither comes next.
std::optional<std::string_view> unit_after_per(std::string_view text) {
  text = without_blanks(text);
  if (text.starts_with("per ")) {
    return text.substr(4);
  }
  return text.starts_with("/") ? std::optional(text.substr(1)) : std::nullopt;
}

/// The size of the unit in SI if it is of that dimension.
std::optional<double> size_of(std::string_view unit, Dimension dimension) {
  try {
    return parse_unit(unit, dimension);
  } catch (const InputError&) {
    return std::nullopt;
  }
}

} // namespace

Price parse_price(std::string_view text, const std::vector<Dimension>& dimensions) {
  const std::string found = "found " + quoted_text(text) + ", expected ";
  const std::string_view rest = without_blanks(text);
  double amount = 0;
  const auto [end, fault] = std::from_chars(rest.data(), rest.data() + rest.size(), amount);
  const auto unit = unit_after_per(rest.substr(static_cast<std::size_t>(end - rest.data())));
  if (fault != std::errc() || !std::isfinite(amount) || !unit) {
    throw InputError(found + expected_price(dimensions));
  }
  for (const Dimension dimension : dimensions) {
    const auto size = size_of(*unit, dimension);
    if (!size || !(*size > 0)) {
      continue;
    }
    const double price = amount / *size;
    if (!(price >= 0 && price <= highest_price)) {
      throw InputError(found + "a price of 0 or more (up to 1e9 per SI unit)");
    }
    return {price, dimension};
  }
  throw InputError(found + expected_price(dimensions));
}

Maybe<Price> read_price(const TomlTable& table, std::string_view name,
                        const std::vector<Dimension>& dimensions) {
  const auto text = read_text(table, name, expected_price(dimensions));
  if (!text) {
    return std::nullopt;
  }
  try {
    return Given<Price>{parse_price(text->value, dimensions), text->line, text->text};
  } catch (const InputError& error) {
    add_error(*table.findings, text->line, key_of(table, name), error.what());
    return std::nullopt;
  }
}

} // namespace tidemark
