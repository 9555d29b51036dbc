// The preconditioner as an operator: symmetric, positive, and good at any size.
#include "solver/multigrid.hpp"

#include "solver/flow_network.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/network_solve.hpp"

#include <doctest/doctest.h>

#include <algorithm>
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

/// Iterations of conjugate gradients for A x = V until the residual is 1e-10 of its start.
int iterations(const FlowSystem& system, Multigrid& multigrid,
               const std::vector<std::int32_t>& active, std::vector<double>& x) {
  std::vector<double> r(system.size(), 0.0);
  for (const std::int32_t i : active) {
    r[static_cast<std::size_t>(i)] = system.volume[static_cast<std::size_t>(i)];
  }
  x.assign(system.size(), 0.0);
  std::vector<double> d(system.size(), 0.0);
  std::vector<double> q(system.size(), 0.0);
  const double start = std::sqrt(dot(r, r));
  double rho = 1;
  for (int iteration = 1; iteration <= 200; ++iteration) {
    std::vector<double> z(system.size(), 0.0);
    multigrid.apply(system.matrix, active, r, z);
    const double rho_new = dot(r, z);
    const double beta = iteration == 1 ? 0 : rho_new / rho;
    rho = rho_new;
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      d[i] = z[i] + beta * d[i];
    }
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      q[i] = system.matrix.diagonal[i] * d[i] - system.matrix.gathered(i, d);
    }
    const double alpha = rho / dot(d, q);
    for (const std::int32_t id : active) {
      const auto i = static_cast<std::size_t>(id);
      x[i] += alpha * d[i];
      r[i] -= alpha * q[i];
    }
    if (std::sqrt(dot(r, r)) <= 1e-10 * start) {
      return iteration;
    }
  }
  return 1000;
}

} // namespace

TEST_CASE("multigrid: a symmetric positive operator") {
  const FlowSystem system = random_system(40, 30);
  const auto active = unknowns(system.size() - 1);
  Multigrid multigrid;
  multigrid.set_up(system.matrix, active);
  for (const std::uint32_t seed : {1u, 2u, 3u}) {
    const auto a = random_values(system, active, seed);
    const auto b = random_values(system, active, seed + 10);
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
    multigrid.set_up(system.matrix, active);
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

TEST_CASE("multigrid: a set that has grown or shrunk since the set-up is served too") {
  const FlowSystem system = random_system(60, 40);
  const std::size_t half = system.size() / 2;
  Multigrid multigrid;
  multigrid.set_up(system.matrix, unknowns(half));
  std::vector<double> x;
  for (const std::size_t last : {half, half + half / 20, half - half / 20}) {
    CAPTURE(last);
    const auto active = unknowns(last);
    CHECK(iterations(system, multigrid, active, x) <= 60);
    for (std::size_t i = last + 1; i < system.size(); ++i) {
      REQUIRE(x[i] == 0);
    }
  }
}

TEST_CASE("multigrid: a set of a few unknowns, or one") {
  const FlowSystem system = random_system(10, 7);
  for (const std::size_t last : {std::size_t{1}, std::size_t{5}, std::size_t{70}}) {
    Multigrid multigrid;
    const auto active = unknowns(last);
    multigrid.set_up(system.matrix, active);
    std::vector<double> x;
    CHECK(iterations(system, multigrid, active, x) <= 30);
  }
}
