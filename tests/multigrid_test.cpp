// The preconditioner as an operator: symmetric, positive, and good at any size.
#include "solver/multigrid.hpp"

#include "solver/flow_network.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/network_solve.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <random>

using namespace tidemark;
using namespace tidemark::test;

namespace {

FlowSystem random_system(int columns, int rows) {
  const FillProblem problem = random_regions_problem(columns, rows, 5);
  return flow_system(flow_network(problem), problem.gates);
}

/// All unknowns but the head, from first to last.
std::vector<std::int32_t> unknowns(std::size_t last) {
  std::vector<std::int32_t> result(last);
  std::iota(result.begin(), result.end(), 1);
  return result;
}

std::vector<double> random_values(const FlowSystem& system, std::span<const std::int32_t> active,
                                  std::uint32_t seed) {
  std::mt19937 random(seed);
  std::vector<double> values(system.size(), 0.0);
  for (const std::int32_t i : active) {
    values[static_cast<std::size_t>(i)] = static_cast<double>(random() % 2001) / 1000 - 1;
  }
  return values;
}

double dot(const std::vector<double>& a, const std::vector<double>& b) {
  return std::inner_product(a.begin(), a.end(), b.begin(), 0.0);
}

struct TestBorder {
  std::vector<BorderLink> links;
  Eigen::VectorXd diagonal;
};

/// Iterations of conjugate gradients for A x = V, and 0 for the border's unknowns, until the
/// residual is 1e-10 of its start.
int iterations(const FlowSystem& system, Multigrid& multigrid,
               const std::vector<std::int32_t>& active, std::vector<double>& x,
               const TestBorder& border = {}) {
  std::vector<double> r(system.size(), 0.0);
  for (const std::int32_t i : active) {
    r[static_cast<std::size_t>(i)] = system.volume[static_cast<std::size_t>(i)];
  }
  x.assign(system.size(), 0.0);
  std::vector<double> d(system.size(), 0.0);
  std::vector<double> q(system.size(), 0.0);
  Eigen::VectorXd r_border = Eigen::VectorXd::Zero(border.diagonal.size());
  Eigen::VectorXd d_border = r_border;
  const double start = std::sqrt(dot(r, r));
  double rho = 1;
  for (int iteration = 1; iteration <= 200; ++iteration) {
    std::vector<double> z(system.size(), 0.0);
    Eigen::VectorXd z_border = r_border;
    multigrid.apply(system.matrix, active, r, z, z_border);
    const double rho_new = dot(r, z) + r_border.dot(z_border);
    const double beta = iteration == 1 ? 0 : rho_new / rho;
    rho = rho_new;
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      d[i] = z[i] + beta * d[i];
    }
    d_border = z_border + beta * d_border;
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      q[i] = system.matrix.diagonal[i] * d[i] - system.matrix.gathered(i, d);
    }
    Eigen::VectorXd q_border = border.diagonal.cwiseProduct(d_border);
    for (const BorderLink& link : border.links) {
      q[position(link.row)] -= link.conductance * d_border[link.unknown];
      q_border[link.unknown] -= link.conductance * d[position(link.row)];
    }
    const double alpha = rho / (dot(d, q) + d_border.dot(q_border));
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      x[i] += alpha * d[i];
      r[i] -= alpha * q[i];
    }
    r_border -= alpha * q_border;
    if (std::sqrt(dot(r, r) + r_border.squaredNorm()) <= 1e-10 * start) {
      return iteration;
    }
  }
  return 1000;
}

/// Two unknowns of a border in place of what follows the active rows, those with even and with odd
/// numbers, each of which gives way only by a part of its links.
TestBorder border_behind(const FlowSystem& system, std::size_t last, double give) {
  TestBorder border{{}, Eigen::VectorXd::Zero(2)};
  for (std::size_t i = 1; i <= last; ++i) {
    std::array<double, 2> sums{0, 0};
    for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      const std::size_t beside = position(system.matrix.column[position(k)]);
      sums[beside % 2] += beside > last ? system.matrix.link[position(k)] : 0;
    }
    for (const std::int32_t unknown : {0, 1}) {
      const double c = sums[position(unknown)];
      border.diagonal[unknown] += (1 + give) * c;
      if (c > 0) {
        border.links.push_back({static_cast<std::int32_t>(i), unknown, c});
      }
    }
  }
  return border;
}

/// A random system with the first half of its unknowns active, and what follows it.
struct HalfActive {
  FlowSystem system;
  std::size_t last;
  std::vector<std::int32_t> active;
  Multigrid multigrid;

  HalfActive(int columns, int rows)
      : system(random_system(columns, rows)), last(system.size() / 2), active(unknowns(last)) {
    multigrid.set_up(system.matrix);
    multigrid.follow(system.matrix, active);
  }
};

} // namespace

TEST_CASE("multigrid: a symmetric positive operator") {
  const FlowSystem system = random_system(40, 30);
  const auto active = unknowns(system.size() - 1);
  Multigrid multigrid;
  multigrid.set_up(system.matrix);
  multigrid.follow(system.matrix, active);
  for (const std::uint32_t seed : {1u, 2u, 3u}) {
    auto a = random_values(system, active, seed);
    auto b = random_values(system, active, seed + 10);
    std::vector<double> m_a(system.size(), 0.0);
    std::vector<double> m_b(system.size(), 0.0);
    multigrid.apply(system.matrix, active, a, m_a);
    multigrid.apply(system.matrix, active, b, m_b);
    CHECK(m_a[0] == 0);
    CHECK(dot(a, m_a) > 0);
    CHECK(dot(b, m_b) > 0);
    CHECK(std::abs(dot(a, m_b) - dot(b, m_a)) <= 1e-11 * std::sqrt(dot(a, m_a) * dot(b, m_b)));
  }
}

TEST_CASE("multigrid: conjugate gradients need about the same iterations at any size") {
  std::vector<double> x;
  for (const auto& [columns, rows] : {std::pair(20, 14), std::pair(40, 28), std::pair(100, 70)}) {
    CAPTURE(columns);
    const FlowSystem system = random_system(columns, rows);
    const auto active = unknowns(system.size() - 1);
    Multigrid multigrid;
    multigrid.set_up(system.matrix);
    multigrid.follow(system.matrix, active);
    CHECK(iterations(system, multigrid, active, x) <= 35);
    const std::vector<double> exact = completion_field(system);
    const double scale = std::ranges::max(exact);
    double worst = 0;
    for (std::size_t i = 0; i < exact.size(); ++i) {
      worst = std::max(worst, std::abs(x[i] - exact[i]) / scale);
    }
    CHECK(worst <= 1e-7);
  }
}

TEST_CASE("multigrid: unknowns linked to many rows cost hardly an iteration") {
  for (const auto& [columns, rows] : {std::pair(20, 14), std::pair(60, 40), std::pair(100, 70)}) {
    CAPTURE(columns);
    auto [system, last, active, multigrid] = HalfActive(columns, rows);
    std::vector<double> x;
    const int without = iterations(system, multigrid, active, x);
    for (const double give : {1e-4, 1.0}) {
      CAPTURE(give);
      const TestBorder border = border_behind(system, last, give);
      REQUIRE(multigrid.set_border(system.matrix, border.links, border.diagonal));
      CHECK(iterations(system, multigrid, active, x, border) <= without + 3);
    }
  }
}

TEST_CASE("multigrid: with a border it is symmetric too, and gives back what it was given") {
  auto [system, last, active, multigrid] = HalfActive(40, 30);
  const TestBorder border = border_behind(system, last, 1e-3);
  REQUIRE(multigrid.set_border(system.matrix, border.links, border.diagonal));
  auto a = random_values(system, active, 1);
  auto b = random_values(system, active, 2);
  const Eigen::Vector2d a_border(0.3, -0.8);
  const Eigen::Vector2d b_border(-0.1, -0.9);
  std::vector<double> m_a(system.size(), 0.0);
  std::vector<double> m_b(system.size(), 0.0);
  Eigen::VectorXd m_a_border = a_border;
  Eigen::VectorXd m_b_border = b_border;
  const std::vector<double> a_before = a;
  multigrid.apply(system.matrix, active, a, m_a, m_a_border);
  multigrid.apply(system.matrix, active, b, m_b, m_b_border);
  CHECK(a == a_before);
  const double b_m_a = dot(b, m_a) + b_border.dot(m_a_border);
  const double a_m_b = dot(a, m_b) + a_border.dot(m_b_border);
  const double a_m_a = dot(a, m_a) + a_border.dot(m_a_border);
  const double b_m_b = dot(b, m_b) + b_border.dot(m_b_border);
  CHECK(a_m_a > 0);
  CHECK(b_m_b > 0);
  CHECK(std::abs(a_m_b - b_m_a) <= 1e-11 * std::sqrt(a_m_a * b_m_b));
}

TEST_CASE("multigrid: a border that is not positive definite is refused") {
  auto [system, last, active, multigrid] = HalfActive(20, 14);
  TestBorder border = border_behind(system, last, 0);
  border.diagonal *= 0.1;
  CHECK(!multigrid.set_border(system.matrix, border.links, border.diagonal));
  std::vector<double> x;
  CHECK(iterations(system, multigrid, active, x) <= 25); // as without
}

TEST_CASE("multigrid: a set that grows and shrinks is served as well as one met at once") {
  const FlowSystem system = random_system(60, 40);
  const std::size_t half = system.size() / 2;
  Multigrid multigrid;
  multigrid.set_up(system.matrix);
  std::vector<double> x;
  for (const std::size_t last :
       {half, half + 1, half + half / 20, half - half / 3, half + half / 2}) {
    CAPTURE(last);
    const auto active = unknowns(last);
    CHECK(multigrid.follow(system.matrix, active));
    CHECK(!multigrid.follow(system.matrix, active));
    CHECK(iterations(system, multigrid, active, x) <= 25);
    for (std::size_t i = last + 1; i < system.size(); ++i) {
      REQUIRE(x[i] == 0);
    }
  }
}

TEST_CASE("multigrid: what it follows does not depend on what was before, to the bit") {
  FlowSystem system = random_system(40, 30);
  const std::vector<double> diagonal = system.matrix.diagonal;
  const auto active = unknowns(system.size() / 2);
  auto r = random_values(system, active, 4);
  const auto answer = [&](Multigrid& multigrid) {
    multigrid.follow(system.matrix, active);
    std::vector<double> z(system.size(), 0.0);
    multigrid.apply(system.matrix, active, r, z);
    return z;
  };
  Multigrid multigrid;
  multigrid.set_up(system.matrix);
  const std::vector<double> at_once = answer(multigrid);
  multigrid.follow(system.matrix, unknowns(system.size() / 3));
  std::vector<std::int32_t> every_third;
  for (std::int32_t i = 2; position(i) < system.size(); i += 3) {
    every_third.push_back(i);
  }
  multigrid.follow(system.matrix, every_third);
  CHECK(answer(multigrid) == at_once);
  for (const std::int32_t i : every_third) { // as hoses have it
    system.matrix.diagonal[position(i)] *= 1.5;
  }
  CHECK(answer(multigrid) != at_once);
  system.matrix.diagonal = diagonal;
  CHECK(answer(multigrid) == at_once);
  for (const std::size_t other : {active.size() + 1, active.size() - 3, active.size() + 40}) {
    CAPTURE(other); // next to the set: most is kept
    multigrid.follow(system.matrix, unknowns(other));
    CHECK(answer(multigrid) == at_once);
  }
}

TEST_CASE("multigrid: a body with hardly any way out costs no more iterations") {
  FlowSystem system = random_system(40, 30);
  const auto active = unknowns(system.size() - 1);
  Stencil& matrix = system.matrix;
  std::vector<double> x;
  const auto needed = [&](double part) { // of the links to the held head that are left
    for (std::int32_t k = matrix.first[0]; k < matrix.first[1]; ++k) {
      const std::size_t beside = position(matrix.column[position(k)]);
      matrix.diagonal[beside] -= (1 - part) * matrix.link[position(k)];
    }
    Multigrid multigrid;
    multigrid.set_up(matrix);
    multigrid.follow(matrix, active);
    return iterations(system, multigrid, active, x);
  };
  const int usual = needed(1);
  CHECK(needed(1e-9) <= usual + 3);
}

TEST_CASE("multigrid: links that change keep the aggregates, unless they become weak or strong") {
  FlowSystem system = random_system(40, 30);
  Stencil& matrix = system.matrix;
  const auto active = unknowns(system.size() / 2);
  auto r = random_values(system, active, 4);
  const auto answer = [&](Multigrid& multigrid, double scale) {
    multigrid.set_up(matrix);
    multigrid.follow(matrix, active);
    std::vector<double> z(system.size(), 0.0);
    multigrid.apply(matrix, active, r, z);
    std::ranges::for_each(z, [&](double& value) { value *= scale; });
    return z;
  };
  const auto scale_links = [&](auto factor) {
    for (std::size_t i = 0; i < matrix.size(); ++i) {
      matrix.diagonal[i] = 0;
      for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
        matrix.link[position(k)] *= factor(i + position(matrix.column[position(k)]));
        matrix.diagonal[i] += matrix.link[position(k)];
      }
    }
  };
  scale_links([](std::size_t) { return 1; }); // each diagonal summed in the same order
  Multigrid multigrid;
  const std::vector<double> before = answer(multigrid, 1);
  scale_links([](std::size_t) { return 0.25; }); // whose root is exact too
  CHECK(answer(multigrid, 0.25) == before);
  scale_links([](std::size_t both) { return both % 2 == 0 ? 1 : 1e-4; });
  Multigrid another;
  CHECK(answer(multigrid, 1) == answer(another, 1));
}

TEST_CASE("multigrid: a set of a few unknowns, or one") {
  const FlowSystem system = random_system(10, 7);
  for (const std::size_t last : {std::size_t{1}, std::size_t{5}, std::size_t{70}}) {
    Multigrid multigrid;
    const auto active = unknowns(last);
    multigrid.set_up(system.matrix);
    multigrid.follow(system.matrix, active);
    std::vector<double> x;
    CHECK(iterations(system, multigrid, active, x) <= 30);
  }
}
