#include "tests/support/sphere_net.hpp"

#include <Eigen/Geometry>
#include <Eigen/LU>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace tidemark::test {

using std::numbers::pi;

namespace {

/// One step of the classical Runge-Kutta method for y' = f(t, y).
template <class State, class Rate>
State runge_kutta(const Rate& rate, double t, const State& y, double step) {
  const State k1 = rate(t, y);
  const State k2 = rate(t + step / 2, State(y + step / 2 * k1));
  const State k3 = rate(t + step / 2, State(y + step / 2 * k2));
  const State k4 = rate(t + step, State(y + step * k3));
  return y + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
}

constexpr double first_x = 0.1;
constexpr double table_step = 1e-3;
constexpr int table_size = 1320; // up to z = 2

/// W and W_x from x = 0.1 on.
std::vector<Eigen::Vector2d> angle_table() {
  std::vector<Eigen::Vector2d> table{{pi / 2 - std::pow(first_x, 2) + std::pow(first_x, 6) / 18,
                                      -2 * first_x + std::pow(first_x, 5) / 3}};
  const auto rate = [](double x, const Eigen::Vector2d& w) {
    return Eigen::Vector2d(w[1], -w[1] / x - 4 * std::sin(w[0]));
  };
  for (int i = 0; i < table_size; ++i) {
    table.push_back(runge_kutta(rate, first_x + i * table_step, table.back(), table_step));
  }
  return table;
}

/// Position and direction of the weft, one above the other.
using Frame = Eigen::Matrix<double, 6, 1>;

Vector3 warp_direction(const Frame& frame, double angle) {
  const Vector3 position = frame.head<3>();
  const Vector3 weft = frame.tail<3>();
  return std::cos(angle) * weft - std::sin(angle) * position.cross(weft);
}

Frame sphere_net_frame(double u, double v) {
  constexpr int steps = 40;
  Frame frame;
  frame << 0, std::sin(v), std::cos(v), 0, std::cos(v), -std::sin(v);
  const auto rate = [&](double at, const Frame& here) {
    const Vector3 warp = warp_direction(here, sphere_net_angle(std::max(at * v, 0.0)));
    Frame result;
    result << warp, -here.tail<3>().dot(warp) * here.head<3>();
    return result;
  };
  for (int i = 0; i < steps; ++i) {
    frame = runge_kutta(rate, u * i / steps, frame, u / steps);
  }
  return frame;
}

} // namespace

double sphere_net_angle(double z) {
  static const std::vector<Eigen::Vector2d> table = angle_table();
  const double x = std::sqrt(z);
  if (x <= first_x) {
    return pi / 2 - z + z * z * z / 18;
  }
  // Cubic between the values and slopes of the table.
  const double at = (x - first_x) / table_step;
  const auto i = static_cast<std::size_t>(std::min(at, table_size - 1.0));
  const double t = at - static_cast<double>(i);
  const Eigen::Vector2d& one = table[i];
  const Eigen::Vector2d& two = table[i + 1];
  const double rise = two[0] - one[0];
  const double a = one[1] * table_step - rise;
  const double b = rise - two[1] * table_step;
  return one[0] + t * rise + t * (1 - t) * ((1 - t) * a + t * b);
}

Eigen::Vector2d sphere_net_lengths(const Vector3& point) {
  const double arc = std::acos(std::min(1.0, point.z()));
  const double around = std::atan2(point.y(), point.x());
  Eigen::Vector2d lengths(arc * std::cos(around), arc * std::sin(around));
  for (int i = 0; i < 30; ++i) {
    const Frame frame = sphere_net_frame(lengths[0], lengths[1]);
    Eigen::Matrix<double, 3, 2> moves;
    moves.col(0) = warp_direction(frame, sphere_net_angle(std::max(0.0, lengths[0] * lengths[1])));
    moves.col(1) = frame.tail<3>();
    const Eigen::Vector2d change =
        (moves.transpose() * moves).inverse() * moves.transpose() * (point - frame.head<3>());
    lengths = (lengths + change).cwiseMax(0);
    if (change.norm() < 1e-11) {
      break;
    }
  }
  return lengths;
}

std::vector<std::vector<Vector3>> sphere_net_crossings(double step, int count) {
  const auto size = static_cast<std::size_t>(count) + 1;
  std::vector<std::vector<Vector3>> grid(size, std::vector<Vector3>(size));
  for (std::size_t i = 0; i < size; ++i) {
    const double arc = step * static_cast<double>(i);
    grid[i][0] = {std::sin(arc), 0, std::cos(arc)};
    grid[0][i] = {0, std::sin(arc), std::cos(arc)};
  }
  for (std::size_t i = 1; i < size; ++i) {
    for (std::size_t j = 1; j < size; ++j) {
      const Vector3 middle = (grid[i][j - 1] + grid[i - 1][j]).normalized();
      const Vector3& corner = grid[i - 1][j - 1];
      grid[i][j] = 2 * corner.dot(middle) * middle - corner;
    }
  }
  return grid;
}

} // namespace tidemark::test
