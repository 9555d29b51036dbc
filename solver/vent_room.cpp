#include "solver/vent_room.hpp"

#include "solver/waiting_gates.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <utility>

namespace tidemark {

namespace {

constexpr std::size_t sector_count = 8;

/// Two unit vectors along the surface at a node, at a right angle.
struct Plane {
  Vector3 first, second;
};

Vector3 normal_at(const ShellMesh& mesh, NodeId node) {
  Vector3 sum = Vector3::Zero();
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    if (std::ranges::find(corners, node) == corners.end()) {
      continue;
    }
    const Vector3& corner = mesh.positions[corners[0]];
    const Vector3 area = (mesh.positions[corners[1]] - corner)
                             .cross(mesh.positions[corners[corners.size() - 1]] - corner);
    sum += area.dot(sum) < 0 ? Vector3(-area) : area; // neighbours may be wound the other way
  }
  return sum.normalized();
}

/// The first vector lies along x as far as the surface does, or along y where it does not.
Plane plane_at(const ShellMesh& mesh, NodeId node) {
  const Vector3 normal = normal_at(mesh, node);
  const Vector3 axis = std::abs(normal.x()) < 0.9 ? Vector3::UnitX() : Vector3::UnitY();
  const Vector3 first = (axis - axis.dot(normal) * normal).normalized();
  return {first, normal.cross(first)};
}

std::set<NodeId> other_ports(const FillProblem& problem, std::size_t vent) {
  std::set<NodeId> nodes;
  for (const Gate& gate : problem.gates) {
    nodes.insert(gate.nodes.begin(), gate.nodes.end());
  }
  for (std::size_t i = 0; i < problem.vents.size(); ++i) {
    if (i != vent) {
      nodes.insert(problem.vents[i].nodes.begin(), problem.vents[i].nodes.end());
    }
  }
  return nodes;
}

/// The last of the nodes, nearest first, that is not beyond a distance; the first if all are.
std::size_t last_within(const std::vector<NearNode>& nodes, double distance) {
  const auto beyond =
      std::ranges::upper_bound(nodes, distance, std::ranges::less{}, &NearNode::distance);
  return beyond == nodes.begin() ? 0 : static_cast<std::size_t>(beyond - nodes.begin()) - 1;
}

} // namespace

std::vector<VentDirection> directions_of(const FillProblem& problem, const SurfaceGraph& graph,
                                         std::size_t vent, double reach) {
  constexpr double sector_angle = 2 * std::numbers::pi / sector_count;
  const ShellMesh& mesh = problem.mesh;
  const NodeId middle = problem.vents[vent].nodes.front();
  const Plane plane = plane_at(mesh, middle);
  const std::set<NodeId> taken = other_ports(problem, vent);
  const PerNode<double> distances = distances_from(graph, {&middle, 1}, reach);
  std::vector<VentDirection> sectors(sector_count);
  for (std::size_t i = 0; i < sector_count; ++i) {
    const double angle = sector_angle * static_cast<double>(i);
    sectors[i].direction = std::cos(angle) * plane.first + std::sin(angle) * plane.second;
  }
  for (const NodeId node : distances.ids()) {
    if (node == middle || !(distances[node] <= reach) || taken.contains(node)) {
      continue;
    }
    const Vector3 way = mesh.positions[node] - mesh.positions[middle];
    const double turns = std::atan2(way.dot(plane.second), way.dot(plane.first)) / sector_angle;
    const auto sector = static_cast<std::size_t>(std::lround(turns) + long{sector_count});
    sectors[sector % sector_count].nodes.push_back({node, distances[node]});
  }
  std::erase_if(sectors, [](const VentDirection& sector) { return sector.nodes.empty(); });
  for (VentDirection& sector : sectors) {
    std::ranges::stable_sort(sector.nodes, std::ranges::less{}, &NearNode::distance);
  }
  return sectors;
}

double dry_volume(const FillResult& result) {
  return result.verdict == Verdict::filled ? 0 : (1 - result.filled_fraction) * result.pore_volume;
}

VentWay way_of(FillProblem problem, std::size_t vent, const VentDirection& direction,
               double allowed, const FillOptions& options, const std::function<bool()>& goes_on) {
  constexpr double near_enough = 0.1;
  const std::vector<NearNode>& nodes = direction.nodes;
  VentWay way;
  const auto try_at = [&](std::size_t i) {
    problem.vents[vent].nodes = {nodes[i].node};
    const FillResult result = fill(problem, options, [&](const StepReport&) { return goes_on(); });
    if (result.reason == ShortReason::interrupted) {
      return false;
    }
    const TriedPlace tried{nodes[i], dry_volume(result)};
    if (tried.dry_volume <= allowed) {
      way.fills.push_back(tried);
    } else {
      way.shut_in = tried;
    }
    return tried.dry_volume <= allowed;
  };
  std::size_t next = 0;  // to be tried, or beyond the last
  std::size_t below = 0; // so many of the nearest are behind
  double distance = nodes.front().distance;
  while (next < nodes.size() && try_at(next)) {
    below = next + 1;
    distance *= 2;
    next = below < nodes.size() ? std::max(below, last_within(nodes, distance)) : nodes.size();
  }
  while (way.shut_in && goes_on() && below < next) {
    const double fills = way.fills.empty() ? 0 : way.fills.back().place.distance;
    const double too_far = way.shut_in->place.distance;
    if (too_far - fills <= near_enough * too_far) {
      break;
    }
    const double half = (fills + too_far) / 2;
    const std::size_t middle = std::clamp(last_within(nodes, half), below, next - 1);
    if (try_at(middle)) {
      below = middle + 1;
    } else {
      next = middle;
    }
  }
  return way;
}

FillResult fill_without(FillProblem problem, std::size_t vent, const FillOptions& options,
                        const std::function<bool()>& goes_on) {
  problem.cavity_pressure = front_pressure(problem);
  remove_vent(problem, vent);
  return fill(problem, options, [&](const StepReport&) { return goes_on(); });
}

} // namespace tidemark
