// The rows of channels, eliminated exactly: against a dense solve.
#include "solver/channel_forest.hpp"

#include "solver/channel.hpp"
#include "solver/flow_network.hpp"
#include "tests/support/plate_with_hole.hpp"

#include <Eigen/Cholesky>
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// The small plate with its runner and the race track along all of its edges, two loops.
struct Channelled {
  FlowSystem system;
  std::vector<std::uint8_t> is_channel;
  std::size_t count = 0;

  Channelled() {
    const FillProblem problem = with_everything(plate_with_hole(500));
    system = flow_system(flow_network(problem), problem.gates);
    is_channel.assign(system.size(), 0);
    for (const auto& edge : channel_edges(problem)) {
      for (const NodeId node : edge) {
        std::uint8_t& flag = is_channel[position(system.unknown[node])];
        count += flag == 0 ? 1 : 0;
        flag = 1;
      }
    }
  }
};

/// The part of the matrix in the rows that a forest has eliminated.
Eigen::MatrixXd dense_part(const Stencil& matrix, const ChannelForest& forest) {
  const auto size = static_cast<Eigen::Index>(forest.rows().size());
  Eigen::MatrixXd dense = Eigen::MatrixXd::Zero(size, size);
  for (Eigen::Index n = 0; n < size; ++n) {
    const std::size_t i = position(forest.rows()[static_cast<std::size_t>(n)]);
    dense(n, n) = matrix.diagonal[i];
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      if (const std::int32_t j = matrix.column[position(k)]; forest.has(j)) {
        dense(n, static_cast<Eigen::Index>(forest.place(j))) = -matrix.link[position(k)];
      }
    }
  }
  return dense;
}

/// Largest error of what the forest solves, over the largest value of the solution.
double error_of_solve(const Stencil& matrix, const ChannelForest& forest) {
  const Eigen::MatrixXd dense = dense_part(matrix, forest);
  Eigen::VectorXd right(dense.rows());
  for (Eigen::Index n = 0; n < right.size(); ++n) {
    right[n] = std::cos(3.0 * static_cast<double>(n));
  }
  Eigen::VectorXd x = right;
  forest.solve({x.data(), static_cast<std::size_t>(x.size())});
  const Eigen::VectorXd exact = dense.llt().solve(right);
  return (x - exact).cwiseAbs().maxCoeff() / exact.cwiseAbs().maxCoeff();
}

} // namespace

TEST_CASE("channel forest: nearly all of the channels' rows, solved as a dense solver does") {
  const Channelled plate;
  ChannelForest forest;
  forest.set_up(plate.system.matrix, plate.is_channel);
  forest.follow(plate.system.matrix, [](std::int32_t) { return true; });
  CHECK(forest.rows().size() < plate.count); // the edges are closed loops
  CHECK(forest.rows().size() > 0.9 * static_cast<double>(plate.count));
  CHECK(std::ranges::all_of(forest.rows(), [&](std::int32_t row) {
    return plate.is_channel[position(row)] && forest.rows()[forest.place(row)] == row;
  }));
  CHECK(error_of_solve(plate.system.matrix, forest) <= 1e-11);
}

TEST_CASE("channel forest: of the active rows only, and with diagonals of the moment") {
  const Channelled plate;
  ChannelForest forest;
  forest.set_up(plate.system.matrix, plate.is_channel);
  Stencil matrix = plate.system.matrix;
  for (std::size_t i = 0; i < matrix.size(); i += 3) {
    matrix.diagonal[i] *= 1.5;
  }
  const auto is_active = [](std::int32_t row) { return row % 7 != 0; };
  forest.follow(plate.system.matrix, [](std::int32_t) { return true; });
  const std::size_t all = forest.rows().size();
  forest.follow(matrix, is_active);
  CHECK(forest.rows().size() < all);
  CHECK(std::ranges::all_of(forest.rows(), is_active));
  CHECK_FALSE(forest.has(0));
  CHECK(error_of_solve(matrix, forest) <= 1e-11);
}

TEST_CASE("channel forest: a row without a positive diagonal is left out, and comes back") {
  const Channelled plate;
  ChannelForest forest;
  forest.set_up(plate.system.matrix, plate.is_channel);
  Stencil matrix = plate.system.matrix;
  const auto all = [](std::int32_t) { return true; };
  forest.follow(matrix, all);
  const std::size_t count = forest.rows().size();
  for (const std::size_t n : {std::size_t{0}, count / 2, count - 1}) {
    CAPTURE(n);
    forest.follow(plate.system.matrix, all);
    const std::int32_t row = forest.rows()[n];
    matrix.diagonal[position(row)] = 0;
    forest.follow(matrix, all);
    CHECK(forest.rows().size() == count - 1);
    CHECK_FALSE(forest.has(row));
    CHECK(error_of_solve(matrix, forest) <= 1e-11);
    matrix = plate.system.matrix;
  }
  forest.follow(matrix, all);
  CHECK(forest.rows().size() == count);
}
