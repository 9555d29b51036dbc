#include "solver/resin_laws.hpp"

#include "solver/cure.hpp"
#include "solver/interpolation.hpp"

#include <cmath>
#include <span>

namespace tidemark {

namespace {

double viscosity_of(double viscosity, double /*temperature*/) {
  return viscosity;
}

double viscosity_of(const ArrheniusViscosity& law, double temperature) {
  return law.viscosity *
         std::exp(law.activation_energy / gas_constant * (1 / temperature - 1 / law.temperature));
}

double viscosity_of(const TabulatedViscosity& law, double temperature) {
  return std::exp(interpolate(law.temperature, law.log_viscosity, temperature));
}

double along(const std::vector<double>& x, std::span<const double> y, double at) {
  return x.size() == 1 ? y.front() : interpolate(x, y, at);
}

} // namespace

double fresh_viscosity(const FreshViscosity& law, double temperature) {
  return std::visit([&](const auto& kind) { return viscosity_of(kind, temperature); }, law);
}

double gel_time(const GelTable& table, double temperature, double catalyst) {
  const std::size_t levels = table.catalyst.size();
  std::vector<double> at_level; // ln of the time at each temperature
  for (std::size_t row = 0; row < table.temperature.size(); ++row) {
    at_level.push_back(
        along(table.catalyst, std::span(table.log_time).subspan(row * levels, levels), catalyst));
  }
  return std::exp(along(table.temperature, at_level, temperature));
}

} // namespace tidemark
