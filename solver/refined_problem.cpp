#include "solver/refined_problem.hpp"

#include <algorithm>
#include <cstddef>
#include <utility>

namespace tidemark {

namespace {

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

void divide_channel(Channel& channel, const NodesOnEdges& nodes) {
  Channel divided{channel.name, {}, {}, {}};
  const auto add = [&](NodeId from, NodeId to, std::size_t k) {
    divided.segments.push_back({from, to});
    divided.area.push_back(channel.area[k]);
    divided.permeability.push_back(channel.permeability[k]);
  };
  for (std::size_t k = 0; k < channel.segments.size(); ++k) {
    const auto& [from, to] = channel.segments[k];
    if (const NodeId between = nodes.on(from, to); between.valid()) {
      add(from, between, k);
      add(between, to, k);
    } else {
      add(from, to, k);
    }
  }
  channel = std::move(divided);
}

/// The points have higher numbers than all nodes before.
void add_points_between(std::vector<NodeId>& nodes, const std::vector<EdgeSplit>& splits,
                        std::size_t count) {
  const std::vector<NodeId> own = nodes;
  for (std::size_t i = 0; i < splits.size(); ++i) {
    const auto& edge = splits[i].edge;
    if (std::ranges::binary_search(own, edge[0]) && std::ranges::binary_search(own, edge[1])) {
      nodes.push_back(NodeId(count + i));
    }
  }
}

} // namespace

NodeId RefinedProblem::users_node(NodeId node) const {
  return node.valid() && node.position() >= nodes ? stand_ins[node.position() - nodes] : node;
}

RefinedProblem undivided(const FillProblem& problem) {
  return {problem, problem.mesh.positions.size(), {}};
}

void divide(RefinedProblem& refined, const std::vector<EdgeSplit>& splits) {
  FillProblem& problem = refined.problem;
  const std::size_t count = problem.mesh.positions.size();
  const NodesOnEdges nodes(splits, count);
  for (Channel& channel : problem.channels) {
    divide_channel(channel, nodes);
  }
  for (Gate& gate : problem.gates) {
    add_points_between(gate.nodes, splits, count);
  }
  for (Vent& vent : problem.vents) {
    add_points_between(vent.nodes, splits, count);
  }
  for (const EdgeSplit& split : splits) {
    refined.stand_ins.push_back(refined.users_node(split.edge[0]));
  }
  put_mesh(split_edges(problem.mesh, splits), problem);
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
  const auto move_to_own = [&](NodeId& node) { node = refined.users_node(node); };
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
