#include "solver/beside_channels.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/edge_split.hpp"
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

std::array<NodeId, 2> ascending(const std::array<NodeId, 2>& edge) {
  const auto [low, high] = std::minmax(edge[0], edge[1]);
  return {low, high};
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
  std::vector<std::array<NodeId, 2>> edges;
  for (const auto& corners : triangulate(problem.mesh).corners) {
    for (std::size_t i = 0; i < 3; ++i) {
      const auto edge = ascending({corners[i], corners[(i + 1) % 3]});
      if ((refines[edge[0]] || refines[edge[1]]) && !std::ranges::binary_search(channels, edge)) {
        edges.push_back(edge);
      }
    }
  }
  std::ranges::sort(edges);
  edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
  std::vector<EdgeSplit> splits;
  for (const auto& [a, b] : edges) {
    if (refines[a] && refines[b]) {
      splits.push_back({{a, b}, 0.5});
    } else {
      splits.push_back({refines[a] ? std::array{a, b} : std::array{b, a}, third});
    }
  }
  return splits;
}

void put_mesh(SplitMesh split, FillProblem& problem) {
  const auto of_parents = [&](const auto& values) {
    std::decay_t<decltype(values)> result;
    result.reserve(split.parent.size());
    for (const ElementId parent : split.parent) {
      result.push_back(values[parent]);
    }
    return result;
  };
  problem.element_region = of_parents(problem.element_region);
  if (!problem.reinforcement.empty()) {
    problem.reinforcement = of_parents(problem.reinforcement);
  }
  problem.mesh = std::move(split.mesh);
}

template <class T> PerNode<T> first_of(const PerNode<T>& values, std::size_t count) {
  const auto& all = values.values();
  return PerNode<T>(std::vector<T>(
      all.begin(), all.begin() + static_cast<std::ptrdiff_t>(std::min(count, all.size()))));
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
  RefinedProblem refined{problem, problem.mesh.positions.size(), {}};
  for (int made = 0; made < most; ++made) {
    FillProblem& fine = refined.problem;
    const auto splits = splits_beside(fine, nodes_to_refine(fine, rows, made));
    for (const auto& [edge, share] : splits) {
      const std::size_t near = edge[0].position();
      refined.stand_ins.push_back(near < refined.nodes ? edge[0]
                                                       : refined.stand_ins[near - refined.nodes]);
    }
    put_mesh(split_edges(fine.mesh, splits), fine);
  }
  return refined;
}

FillWatcher on_users_nodes(const FillWatcher& watcher, const RefinedProblem& refined) {
  if (!watcher) {
    return {};
  }
  return [&watcher, nodes = refined.nodes](const StepReport& report) {
    const auto own = [nodes](const PerNode<double>& field) { return first_of(field, nodes); };
    return watcher({.step = report.step,
                    .is_last = report.is_last,
                    .row = report.row,
                    .fill_fraction = own(report.fill_fraction),
                    .pressure = own(report.pressure),
                    .fill_time = own(report.fill_time),
                    .resin_age = own(report.resin_age),
                    .viscosity = own(report.viscosity),
                    .temperature = own(report.temperature),
                    .conversion = own(report.conversion)});
  };
}

FillResult on_users_nodes(FillResult result, const RefinedProblem& refined) {
  const auto move_to_own = [&](NodeId& node) {
    if (node.valid() && node.position() >= refined.nodes) {
      node = refined.stand_ins[node.position() - refined.nodes];
    }
  };
  for (LastFilled& place : result.last_filled) {
    move_to_own(place.node);
  }
  if (result.age && result.age->first_gel) {
    move_to_own(result.age->first_gel->node);
  }
  if (result.heat) {
    move_to_own(result.heat->hottest_node);
  }
  for (PerNode<double>* field :
       {&result.fill_time_field, &result.pressure, &result.fill_fraction, &result.resin_age,
        &result.viscosity, &result.temperature, &result.conversion}) {
    *field = first_of(*field, refined.nodes);
  }
  result.gate_index = first_of(result.gate_index, refined.nodes);
  return result;
}

} // namespace tidemark
