#include "tests/support/meshes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace tidemark::test {

using std::numbers::pi;

ShellMesh mesh_of(std::vector<Vector3> positions, std::vector<Element> elements) {
  ShellMesh mesh;
  for (std::size_t i = 0; i < positions.size(); ++i) {
    mesh.node_labels.push_back(static_cast<std::int64_t>(i + 1));
  }
  for (std::size_t i = 0; i < elements.size(); ++i) {
    mesh.element_labels.push_back(static_cast<std::int64_t>(i + 1));
  }
  mesh.positions = PerNode<Vector3>(std::move(positions));
  mesh.elements = PerElement<Element>(std::move(elements));
  return mesh;
}

namespace {

Element triangle(int a, int b, int c) {
  return {{NodeId(a), NodeId(b), NodeId(c), NodeId()}};
}

} // namespace

ShellMesh plate(const PlateShape& shape) {
  std::mt19937 random(shape.seed);
  const auto shift = [&] {
    return (static_cast<double>(random() % 20001) / 10000 - 1) * shape.jitter;
  };
  const double dx = shape.length / shape.columns;
  const double dy = shape.width / shape.rows;
  std::vector<Vector3> positions;
  for (int j = 0; j <= shape.rows; ++j) {
    for (int i = 0; i <= shape.columns; ++i) {
      const bool inner = i > 0 && j > 0 && i < shape.columns && j < shape.rows;
      const double x = i == shape.columns ? shape.length : i * dx + (inner ? shift() * dx : 0);
      const double y = j == shape.rows ? shape.width : j * dy + (inner ? shift() * dy : 0);
      positions.emplace_back(x, y, 0);
    }
  }
  std::vector<Element> elements;
  for (int j = 0; j < shape.rows; ++j) {
    for (int i = 0; i < shape.columns; ++i) {
      const int a = j * (shape.columns + 1) + i;
      const int b = a + 1;
      const int d = a + shape.columns + 1;
      const int c = d + 1;
      if (shape.quads) {
        elements.push_back({{NodeId(a), NodeId(b), NodeId(c), NodeId(d)}});
      } else if (shape.seed == 0 || random() % 2 == 0) {
        elements.push_back(triangle(a, b, c));
        elements.push_back(triangle(a, c, d));
      } else {
        elements.push_back(triangle(a, b, d));
        elements.push_back(triangle(b, c, d));
      }
    }
  }
  return mesh_of(std::move(positions), std::move(elements));
}

ShellMesh disc(double radius, int rings, double jitter, std::uint32_t seed) {
  std::mt19937 random(seed);
  const auto shift = [&] { return (static_cast<double>(random() % 20001) / 10000 - 1) * jitter; };
  const double step = radius / rings;
  std::vector<Vector3> positions{Vector3::Zero()};
  const auto first_of = [](int ring) { return ring == 0 ? 0 : 1 + 3 * ring * (ring - 1); };
  for (int ring = 1; ring <= rings; ++ring) {
    for (int k = 0; k < 6 * ring; ++k) {
      const bool inner = ring < rings;
      const double r = ring == rings ? radius : step * (ring + (inner ? shift() : 0));
      const double angle = (k + (inner ? shift() : 0)) * pi / (3 * ring);
      positions.emplace_back(r * std::cos(angle), r * std::sin(angle), 0);
    }
  }
  std::vector<Element> elements;
  for (int ring = 1; ring <= rings; ++ring) {
    const auto outer = [&](int k) { return first_of(ring) + k % (6 * ring); };
    const auto inner = [&](int k) {
      return ring == 1 ? 0 : first_of(ring - 1) + k % (6 * (ring - 1));
    };
    for (int sector = 0; sector < 6; ++sector) {
      for (int k = 0; k < ring; ++k) {
        const int o = sector * ring + k;
        const int i = sector * (ring - 1) + k;
        elements.push_back(triangle(inner(i), outer(o), outer(o + 1)));
        if (k + 1 < ring) {
          elements.push_back(triangle(inner(i), outer(o + 1), inner(i + 1)));
        }
      }
    }
  }
  return mesh_of(std::move(positions), std::move(elements));
}

ShellMesh annulus(double inner, double outer, int radial, int around, double angle) {
  const bool closed = angle > 2 * pi - 1e-9;
  const int columns = closed ? around : around + 1;
  std::vector<Vector3> positions;
  for (int i = 0; i <= radial; ++i) {
    const double r =
        i == radial ? outer : inner * std::pow(outer / inner, static_cast<double>(i) / radial);
    for (int k = 0; k < columns; ++k) {
      const double at = angle * k / around;
      positions.emplace_back(r * std::cos(at), r * std::sin(at), 0);
    }
  }
  std::vector<Element> elements;
  for (int i = 0; i < radial; ++i) {
    for (int k = 0; k < around; ++k) {
      const int a = i * columns + k;
      const int b = i * columns + (k + 1) % columns;
      elements.push_back(triangle(a, a + columns, b + columns));
      elements.push_back(triangle(a, b + columns, b));
    }
  }
  return mesh_of(std::move(positions), std::move(elements));
}

void deform(ShellMesh& mesh, const std::function<Vector3(const Vector3&)>& map) {
  for (Vector3& position : mesh.positions) {
    position = map(position);
  }
}

std::vector<NodeId> nodes_where(const ShellMesh& mesh,
                                const std::function<bool(const Vector3&)>& test) {
  std::vector<NodeId> nodes;
  for (const NodeId node : mesh.positions.ids()) {
    if (test(mesh.positions[node])) {
      nodes.push_back(node);
    }
  }
  return nodes;
}

FillProblem problem_on(ShellMesh mesh, std::vector<NodeId> gate) {
  FillProblem problem;
  problem.element_region = PerElement<RegionId>(mesh.elements.size(), RegionId(0));
  problem.mesh = std::move(mesh);
  problem.regions.push_back({"all", 4e-3, 0.8, 2e-9, 2e-9, Vector3(1, 0, 0), 0});
  problem.resin.viscosity = 0.2;
  problem.gates.push_back({"G1", std::move(gate), Vector3::Zero(), std::nullopt});
  problem.cavity_pressure = 0;
  problem.ambient = 101325;
  return problem;
}

FillProblem with_pressure(FillProblem problem, double cap) {
  problem.injector = {std::nullopt, cap};
  return problem;
}

FillProblem with_flow(FillProblem problem, double flow_rate) {
  problem.injector = {flow_rate, std::nullopt};
  return problem;
}

FillProblem with_flow_and_cap(FillProblem problem, double flow_rate, double cap) {
  problem.injector = {flow_rate, cap};
  return problem;
}

void set_regions(FillProblem& problem, std::vector<Region> regions,
                 const std::function<int(const Vector3&)>& choose) {
  problem.regions = std::move(regions);
  for (const ElementId id : problem.mesh.elements.ids()) {
    problem.element_region[id] = RegionId(choose(element_centre(problem.mesh, id)));
  }
}

} // namespace tidemark::test
