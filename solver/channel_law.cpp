#include "solver/channel_law.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace tidemark {

using std::numbers::pi;

double rectangle_permeability(double width, double depth) {
  const auto [a, b] = std::minmax(width, depth);
  // tanh x = 1 - 2 / (e^2x + 1): the ones add up to 31/32 zeta(5), the rest converges at once.
  const double zeta_5 = 1.0369277551433699263;
  double sum = 31.0 / 32.0 * zeta_5;
  for (int n = 1; n <= 15; n += 2) {
    sum -= 2 / ((std::exp(n * pi * b / a) + 1) * std::pow(n, 5));
  }
  return a * a / 12 * (1 - 192 * a / (std::pow(pi, 5) * b) * sum);
}

double tube_permeability(double bore) {
  return bore * bore / 32;
}

double slot_permeability(double gap) {
  return gap * gap / 12;
}

double hose_resistance(std::span<const Hose> line) {
  double resistance = 0;
  for (const Hose& hose : line) {
    resistance += 128 * hose.length / (pi * std::pow(hose.bore, 4));
  }
  return resistance;
}

} // namespace tidemark
