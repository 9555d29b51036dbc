#include "tests/support/network_solve.hpp"

#include "solver/border_points.hpp"

#include <Eigen/SparseCholesky>

#include <algorithm>
#include <stdexcept>
#include <utility>

namespace tidemark::test {

FillProblem with_border_points(FillProblem problem) {
  for (;;) {
    FlowNetwork network = flow_network(problem);
    auto refined = refined_at_borders(problem, network);
    if (!refined) {
      return problem;
    }
    problem = std::move(refined->problem);
  }
}

std::vector<double> solve_network(const FlowSystem& system,
                                  const std::vector<std::optional<double>>& held,
                                  const std::vector<double>& source) {
  std::vector<int> row(system.size(), -1);
  int rows = 0;
  for (std::size_t i = 0; i < system.size(); ++i) {
    row[i] = held[i] ? -1 : rows++;
  }
  std::vector<Eigen::Triplet<double>> entries;
  Eigen::VectorXd right(rows);
  for (std::size_t i = 0; i < system.size(); ++i) {
    if (row[i] < 0) {
      continue;
    }
    entries.emplace_back(row[i], row[i], system.matrix.diagonal[i]);
    right[row[i]] = source[i];
    for (auto k = static_cast<std::size_t>(system.matrix.first[i]);
         k < static_cast<std::size_t>(system.matrix.first[i + 1]); ++k) {
      const auto j = static_cast<std::size_t>(system.matrix.column[k]);
      if (row[j] >= 0) {
        entries.emplace_back(row[i], row[j], -system.matrix.link[k]);
      } else {
        right[row[i]] += system.matrix.link[k] * *held[j];
      }
    }
  }
  Eigen::SparseMatrix<double> matrix(rows, rows);
  matrix.setFromTriplets(entries.begin(), entries.end());
  const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> factors(matrix);
  if (factors.info() != Eigen::Success) {
    throw std::runtime_error("the network's matrix could not be factorised");
  }
  Eigen::VectorXd x = factors.solve(right);
  x += factors.solve(right - matrix * x);
  std::vector<double> result(system.size());
  for (std::size_t i = 0; i < system.size(); ++i) {
    result[i] = row[i] < 0 ? *held[i] : x[row[i]];
  }
  return result;
}

std::vector<double> completion_field(const FlowSystem& system) {
  std::vector<std::optional<double>> held(system.size());
  held[0] = 0;
  return solve_network(system, held, system.volume);
}

Completion completion_of(const FillProblem& problem) {
  const FlowSystem system = flow_system(flow_network(problem), problem.gates);
  const std::vector<double> w = completion_field(system);
  Completion result{*std::ranges::max_element(w), NodeId()};
  const auto last = std::ranges::max_element(w) - w.begin();
  for (const NodeId node : system.unknown.ids()) {
    if (system.unknown[node] == last) {
      result.last_node = node;
    }
  }
  return result;
}

} // namespace tidemark::test
