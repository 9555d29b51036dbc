#include "io/layup_text.hpp"

#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace tidemark {

namespace {

constexpr std::size_t columns = 8;
using Row = std::array<std::string, columns>;

/// An angle between lines [rad], from above -90 to 90 degrees.
std::string as_degrees(double angle) {
  const double degrees = std::remainder(angle * 180 / std::numbers::pi, 180.0);
  const double tenths = std::round(10 * degrees) / 10;
  return plain_number((tenths <= -90 ? tenths + 180 : tenths) + 0.0); // no "-0"
}

/// The row of a layer or of the stack, which have these in common.
template <class Layers> Row row_of(const std::string& name, const Layers& layers) {
  const bool has_fibres = layers.areal_weight > 0;
  const bool has_direction = layers.permeability_1 != layers.permeability_2;
  return {name,
          plain_number(std::round(1e6 * layers.thickness) / 1e3),
          has_fibres ? rough_number(layers.fibre_volume_fraction) : "-",
          rough_number(layers.porosity),
          layers.permeability_1 > 0 ? rough_number(layers.permeability_1) : "-",
          layers.permeability_2 > 0 ? rough_number(layers.permeability_2) : "-",
          has_direction ? as_degrees(layers.angle) : "-",
          has_fibres ? plain_number(std::round(1e4 * layers.areal_weight) / 10) : "-"};
}

/// Names to the left, numbers to the right.
std::string aligned(const std::vector<Row>& rows) {
  std::array<std::size_t, columns> width{};
  for (const Row& row : rows) {
    for (std::size_t i = 0; i < columns; ++i) {
      width[i] = std::max(width[i], row[i].size());
    }
  }
  std::string text;
  for (const Row& row : rows) {
    text += "  " + row[0] + std::string(width[0] - row[0].size(), ' ');
    for (std::size_t i = 1; i < columns; ++i) {
      text += std::string(width[i] - row[i].size() + 2, ' ') + row[i];
    }
    text += "\n";
  }
  return text;
}

std::string closing_text(const ClosedStack& stack) {
  if (!(stack.areal_weight > 0)) {
    return "";
  }
  std::string text = "  ";
  if (std::abs(stack.ply_volume_fraction - stack.fibre_volume_fraction) > 1e-9) {
    text += "Fibre volume fraction of the plies alone " + rough_number(stack.ply_volume_fraction) +
            ". ";
  }
  return text + (stack.closing_pressure
                     ? "Closing it takes " + as_bar(*stack.closing_pressure) + " on the fibres.\n"
                     : "What closing it takes is not known.\n");
}

std::string layup_text(const Region& region, const LaidRegion& layup) {
  std::vector<Row> rows{
      {"layer", "mm", "Vf", "porosity", "K1 m2", "K2 m2", "angle deg", "fibre g/m2"}};
  for (std::size_t i = 0; i < layup.stack.layers.size(); ++i) {
    rows.push_back(row_of(layup.names[i], layup.stack.layers[i]));
  }
  rows.push_back(row_of("stack", layup.stack));
  return "Layup of region " + region.name + ", from one face to the other" +
         (layup.varies ? ", flat and at its mean thickness:\n" : ":\n") + aligned(rows) +
         closing_text(layup.stack);
}

} // namespace

std::string layups_text(const Case& input) {
  std::string text;
  for (std::size_t i = 0; i < input.layups.size(); ++i) {
    if (input.layups[i]) {
      text += layup_text(input.problem.regions[i], *input.layups[i]);
    }
  }
  return text;
}

} // namespace tidemark
