// Prices: "3.20 per m2", "4.10 per kg". The currency is named once for all.
#pragma once

#include "io/quantity.hpp"
#include "io/toml_table.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

struct Price {
  double amount; // currency per SI unit, >= 0
  Dimension per; // area, mass or volume
};

/// A number, per or /, and a unit of one of the dimensions. Throws InputError (found ...,
/// expected ...), also for an amount below 0 or above 1e9 per SI unit.
Price parse_price(std::string_view text, const std::vector<Dimension>& dimensions);

/// The price in a table, if it is given.
Maybe<Price> read_price(const TomlTable& table, std::string_view name,
                        const std::vector<Dimension>& dimensions);

} // namespace tidemark
