#include "solver/beside_channels.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/triangulation.hpp"
#include "solver/channel.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark {

namespace {

constexpr double third = 1.0 / 3;

/// Height of a triangle above the edge, or the mean extent of a quadrilateral beside it [m].
double extent_beside(const ShellMesh& mesh, ElementId element, double length) {
  return (mesh.elements[element].is_quad() ? 1 : 2) * element_area(mesh, element) / length;
}

double delay_by_laminate(const FillProblem& problem, const EdgeList& edges,
                         const Channel& channel) {
  double open = 0;   // room in the channel [m3]
  double beside = 0; // pores that fill with it [m3]
  for (std::size_t k = 0; k < channel.segments.size(); ++k) {
    const auto& segment = channel.segments[k];
    const auto& positions = problem.mesh.positions;
    const double length = (positions[segment[1]] - positions[segment[0]]).norm();
    open += channel.area[k] * length;
    for (const ElementId element : edges.elements_between(segment[0], segment[1])) {
      const Reinforcement local = reinforcement_at(problem, element);
      beside += local.porosity * local.thickness * length *
                extent_beside(problem.mesh, element, length) / 2;
    }
  }
  return open > 0 ? 1 + beside / open : 1;
}

/// Rows each channel needs.
std::vector<int> rows_needed(const FillProblem& problem) {
  constexpr int most_rows = 4;
  constexpr double tolerable = 0.15; // of f - 1
  std::vector<int> rows;
  for (const double delay : delays_by_laminate(problem)) {
    double excess = delay - 1;
    int count = 0;
    for (; excess > tolerable && count < most_rows; ++count) {
      excess *= third;
    }
    rows.push_back(count);
  }
  return rows;
}

/// Nodes of channels that need another row after the given number, but for those of gates.
PerNode<bool> nodes_to_refine(const FillProblem& problem, const std::vector<int>& rows, int made) {
  PerNode<bool> result(problem.mesh.positions.size(), false);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (rows[i] > made) {
      for (const auto& segment : problem.channels[i].segments) {
        result[segment[0]] = true;
        result[segment[1]] = true;
      }
    }
  }
  for (const Gate& gate : problem.gates) {
    for (const NodeId node : gate.nodes) {
      result[node] = false;
    }
  }
  return result;
}

std::vector<EdgeSplit> splits_beside(const FillProblem& problem, const PerNode<bool>& refines) {
  const std::vector<std::array<NodeId, 2>> channels = channel_edges(problem);
  std::vector<EdgeSplit> splits;
  for (const auto& edge : edges_of(triangulate(problem.mesh))) {
    const auto& [a, b] = edge;
    if (std::ranges::binary_search(channels, edge)) {
      continue;
    }
    if (refines[a] && refines[b]) {
      splits.push_back({edge, 0.5});
    } else if (refines[a] || refines[b]) {
      splits.push_back({refines[a] ? std::array{a, b} : std::array{b, a}, third});
    }
  }
  return splits;
}

} // namespace

std::vector<double> delays_by_laminate(const FillProblem& problem) {
  const EdgeList edges = element_edges(problem.mesh);
  std::vector<double> delays;
  for (const Channel& channel : problem.channels) {
    delays.push_back(delay_by_laminate(problem, edges, channel));
  }
  return delays;
}

std::optional<RefinedProblem> refined_beside_channels(const FillProblem& problem) {
  if (problem.channels.empty()) {
    return std::nullopt;
  }
  const std::vector<int> rows = rows_needed(problem);
  const int most = std::ranges::max(rows);
  if (most == 0) {
    return std::nullopt;
  }
  RefinedProblem refined = undivided(problem);
  for (int made = 0; made < most; ++made) {
    const FillProblem& fine = refined.problem;
    divide(refined, splits_beside(fine, nodes_to_refine(fine, rows, made)));
  }
  return refined;
}

} // namespace tidemark
