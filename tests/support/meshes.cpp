#include "tests/support/meshes.hpp"

#include "mesh/coincident.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
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

/// Shifts between -1 and 1 times a size, the same on every machine.
class Shifts {
public:
  Shifts(double size, std::uint32_t seed) : size_(size), random_(seed) {}
  double operator()() { return (static_cast<double>(random_() % 20001) / 10000 - 1) * size_; }

private:
  double size_;
  std::mt19937 random_;
};

/// A random order of 0 .. count - 1. A loop of its own, since std::shuffle differs between
/// libraries.
std::vector<int> random_order(std::size_t count, std::mt19937& random) {
  std::vector<int> order(count);
  std::iota(order.begin(), order.end(), 0);
  for (std::size_t i = count; i > 1; --i) {
    std::swap(order[i - 1], order[random() % i]);
  }
  return order;
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
  Shifts shift(jitter, seed);
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

ShellMesh annulus(double inner, double outer, int radial, int around, double angle, double jitter,
                  std::uint32_t seed) {
  const bool closed = angle > 2 * pi - 1e-9;
  const int columns = closed ? around : around + 1;
  Shifts shift(jitter, seed);
  std::vector<Vector3> positions;
  for (int i = 0; i <= radial; ++i) {
    for (int k = 0; k < columns; ++k) {
      const bool is_off_rim = i > 0 && i < radial;
      const bool is_off_end = closed || (k > 0 && k < around);
      const double share = (i + (is_off_rim ? shift() : 0)) / radial;
      const double r = i == radial ? outer : inner * std::pow(outer / inner, share);
      const double at = angle * (k + (is_off_rim && is_off_end ? shift() : 0)) / around;
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

ShellMesh triangle_plate(double side, int divisions, double jitter, std::uint32_t seed) {
  Shifts shift(jitter, seed);
  const double step = side / divisions;
  std::vector<Vector3> positions;
  const auto at = [&](int i, int j) { return j * (divisions + 1) - j * (j - 1) / 2 + i; };
  for (int j = 0; j <= divisions; ++j) {
    for (int i = 0; i + j <= divisions; ++i) {
      const bool is_inner = i > 0 && j > 0 && i + j < divisions;
      const double x = i + 0.5 * j + (is_inner ? shift() : 0);
      const double y = (j + (is_inner ? shift() : 0)) * std::sqrt(0.75);
      positions.emplace_back(x * step, y * step, 0);
    }
  }
  std::vector<Element> elements;
  for (int j = 0; j < divisions; ++j) {
    for (int i = 0; i + j < divisions; ++i) {
      elements.push_back(triangle(at(i, j), at(i + 1, j), at(i, j + 1)));
      if (i + j + 1 < divisions) {
        elements.push_back(triangle(at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)));
      }
    }
  }
  return mesh_of(std::move(positions), std::move(elements));
}

ShellMesh t_joint(double length, double width, int columns, int rows) {
  const ShellMesh part = plate({length, width, columns, rows});
  std::vector<ShellMesh> parts(3, part);
  deform(parts[0], [&](const Vector3& x) { return Vector3(x - Vector3(length, 0, 0)); });
  move_rigidly(parts[1], Vector3::UnitY(), -pi / 3, Vector3::Zero());
  move_rigidly(parts[2], Vector3::UnitY(), pi / 3, Vector3::Zero());
  return welded(parts);
}

ShellMesh welded(const std::vector<ShellMesh>& parts) {
  std::vector<Vector3> positions;
  std::vector<Element> elements;
  for (const ShellMesh& part : parts) {
    const auto offset = static_cast<int>(positions.size());
    positions.insert(positions.end(), part.positions.begin(), part.positions.end());
    for (Element element : part.elements) {
      for (std::size_t i = 0; i < element.corners().size(); ++i) {
        element.nodes[i] = NodeId(element.nodes[i].value() + offset);
      }
      elements.push_back(element);
    }
  }
  const PerNode<NodeId> first = first_at_same_place(PerNode<Vector3>(positions), 1e-9);
  for (Element& element : elements) {
    for (std::size_t i = 0, corners = element.corners().size(); i < corners; ++i) {
      element.nodes[i] = first[element.nodes[i]];
    }
  }
  ShellMesh mesh = mesh_of(std::move(positions), std::move(elements));
  drop_unused_nodes(mesh);
  return mesh;
}

Renumbered renumbered(const ShellMesh& mesh, std::uint32_t seed) {
  std::mt19937 random(seed);
  Renumbered result;
  for (const int id : random_order(mesh.positions.size(), random)) {
    result.node.push_back(NodeId(id));
  }
  for (const int id : random_order(mesh.elements.size(), random)) {
    result.element.push_back(ElementId(id));
  }
  std::vector<Vector3> positions(mesh.positions.size());
  for (const NodeId old : mesh.positions.ids()) {
    positions[result.node[old].position()] = mesh.positions[old];
  }
  std::vector<Element> elements(mesh.elements.size());
  for (const ElementId old : mesh.elements.ids()) {
    Element element = mesh.elements[old];
    const auto corners = static_cast<std::ptrdiff_t>(element.corners().size());
    const auto turn = static_cast<std::ptrdiff_t>(random() % 3);
    std::rotate(element.nodes.begin(), element.nodes.begin() + turn,
                element.nodes.begin() + corners);
    for (std::size_t i = 0; i < static_cast<std::size_t>(corners); ++i) {
      element.nodes[i] = result.node[element.nodes[i]];
    }
    elements[result.element[old].position()] = element;
  }
  result.mesh = mesh_of(std::move(positions), std::move(elements));
  return result;
}

void wrap_on_sphere(ShellMesh& mesh, double radius) {
  deform(mesh, [&](const Vector3& x) {
    const double angle = x.norm() / radius;
    const double stretch = angle > 0 ? std::sin(angle) / angle : 1;
    return Vector3(x.x() * stretch, x.y() * stretch, radius * std::cos(angle));
  });
}

void wrap_on_cone(ShellMesh& mesh, double half_angle) {
  deform(mesh, [&](const Vector3& x) {
    return Vector3(x.x() * std::sin(half_angle), x.y() * std::sin(half_angle),
                   x.norm() * std::cos(half_angle));
  });
}

void roll_on_cylinder(ShellMesh& mesh, double radius) {
  deform(mesh, [&](const Vector3& x) {
    const double angle = x.x() / radius;
    return Vector3(radius * std::sin(angle), x.y(), radius * (1 - std::cos(angle)));
  });
}

void fold_at(ShellMesh& mesh, double at, double angle) {
  const Vector3 hinge(at, 0, 0);
  const Eigen::AngleAxisd turn(-angle, Vector3::UnitY());
  deform(mesh,
         [&](const Vector3& x) { return x.x() <= at ? x : Vector3(hinge + turn * (x - hinge)); });
}

void move_rigidly(ShellMesh& mesh, const Vector3& axis, double angle, const Vector3& shift) {
  const Eigen::AngleAxisd turn(angle, axis.normalized());
  deform(mesh, [&](const Vector3& x) { return Vector3(turn * x + shift); });
}

NodeId move_node_to(ShellMesh& mesh, const Vector3& point) {
  const NodeId node = nearest_node(mesh, point);
  mesh.positions[node] = point;
  return node;
}

void straighten(ShellMesh& mesh, double at, double within) {
  for (Vector3& position : mesh.positions) {
    if (std::abs(position.x() - at) < within) {
      position.x() = at;
    }
  }
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

Scatter scatter_of(const ShellMesh& mesh,
                   const std::function<std::optional<double>(NodeId, const Vector3&)>& value) {
  Scatter scatter;
  for (const NodeId node : mesh.positions.ids()) {
    if (const std::optional<double> v = value(node, mesh.positions[node])) {
      ++scatter.count;
      scatter.mean += *v;
      scatter.rms += *v * *v;
      scatter.worst = std::isnan(*v) ? *v : std::max(std::abs(*v), scatter.worst);
    }
  }
  const auto count = static_cast<double>(scatter.count);
  scatter.mean /= count;
  scatter.rms = std::sqrt(scatter.rms / count);
  return scatter;
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
