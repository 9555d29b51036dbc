#include "io/draped_region.hpp"

#include "io/raw_lookup.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "mesh/adjacency.hpp"
#include "mesh/error.hpp"
#include "mesh/surface_walk.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace tidemark {

namespace {

Vector3 in_plane(const Vector3& vector, const Vector3& normal) {
  return vector - vector.dot(normal) * normal;
}

/// The mean of the normals that meet at a place of the surface, on the side of its own triangle: on
/// a corner of the mesh one triangle alone does not tell how the surface faces.
Vector3 mean_normal(const WalkSurface& surface, const NearestPlace& place, double tolerance) {
  const Vector3& own = surface.triangles[place.triangle].normal;
  Vector3 sum = Vector3::Zero();
  for (const WalkTriangle& triangle : surface.triangles.values()) {
    const auto lies_beyond = [&](std::size_t edge) {
      const Vector3 from_edge = place.position - triangle.corners[(edge + 1) % 3];
      return from_edge.dot(triangle.outward[edge]) > tolerance ||
             std::abs(from_edge.dot(triangle.normal)) > tolerance;
    };
    if (triangle.area > 0 && !lies_beyond(0) && !lies_beyond(1) && !lies_beyond(2)) {
      sum += triangle.normal.dot(own) < 0 ? Vector3(-triangle.normal) : triangle.normal;
    }
  }
  return sum.norm() > 0 ? Vector3(sum.normalized()) : own;
}

/// The warp at the start of cloth that is laid at an angle from the direction of the drape, counted
/// as everywhere right-handed about the normal there. None after an error.
std::optional<Vector3> start_warp(const MeshContext& context, const RegionPart& part,
                                  const WalkSurface& surface, double angle) {
  const RawDrape& drape = *part.raw.drape;
  const NearestPlace place = nearest_place(surface, drape.start->value * context.unit);
  const double allowed = 0.02 * context.extent;
  if (!(place.distance <= allowed)) {
    add_error(context.findings, drape.start->line, drape.key + ".start",
              "found " + drape.start->text + ", which is " +
                  in_mesh_units(context, place.distance) +
                  " from the region, expected a point within " + in_mesh_units(context, allowed) +
                  " of it");
    return std::nullopt;
  }
  const Vector3 given = unit_vector(drape.direction->value);
  const Vector3& normal = surface.triangles[place.triangle].normal;
  const Vector3 projected = in_plane(given, normal);
  constexpr double least_sine = 0.0175; // 1 degree
  const Vector3 mean = mean_normal(surface, place, 1e-6 * context.extent);
  if (!(std::min(projected.norm(), in_plane(given, mean).norm()) > least_sine)) {
    add_error(context.findings, drape.direction->line, drape.key + ".direction",
              "found " + drape.direction->text +
                  ", which is perpendicular to the surface at the start, expected a direction "
                  "along it");
    return std::nullopt;
  }
  return angle == 0 ? given : turned(projected, normal, angle);
}

std::string share_text(double share) {
  return share < 0.001 ? "less than 0.1 %" : rough_number(100 * share) + " %";
}

/// Carries the yarns on to the elements that have none, from neighbours, unsheared. Elements that
/// do not hang together with any that have are left.
void carry_on(const ShellMesh& mesh, const PerElement<bool>& is_part, PerElement<Yarns>& yarns) {
  const EdgeList edges = element_edges(mesh);
  bool is_growing = true;
  while (is_growing) {
    is_growing = false;
    for (std::size_t edge = 0; edge < edges.size(); ++edge) {
      for (const ElementId from : edges.elements_of(edge)) {
        for (const ElementId to : edges.elements_of(edge)) {
          if (!yarns[from].is_covered || !is_part[to] || yarns[to].is_covered) {
            continue;
          }
          const Vector3 normal = element_normal(mesh, to);
          const Vector3 warp = in_plane(yarns[from].warp, normal);
          if (warp.norm() > 0.05) {
            const double side =
                element_normal(mesh, from).dot(yarns[from].warp.cross(yarns[from].weft)) < 0 ? -1
                                                                                             : 1;
            yarns[to] = {true, warp.normalized(), side * normal.cross(warp.normalized()), 0};
            is_growing = true;
          }
        }
      }
    }
  }
}

/// A step far below the size of the elements costs memory and time for nothing.
bool check_step(const MeshContext& context, const RegionPart& part) {
  const RawDrape& drape = *part.raw.drape;
  double area = 0;
  for (const ElementId element : part.elements) {
    area += element_area(context.mesh, element);
  }
  const double least = 0.05 * std::sqrt(area / static_cast<double>(part.elements.size()));
  if (!drape.step || drape.step->value >= least) {
    return true;
  }
  if (drape.step->value > 0) { // else it has been reported
    add_error(context.findings, drape.step->line, drape.key + ".step",
              "found " + quoted_text(drape.step->text) +
                  ", expected at least a twentieth of the size of an element, " +
                  in_mesh_units(context, least) + ": a finer net gains nothing");
  }
  return false;
}

/// Which of several nets is spoken of.
std::string cloth_text(double angle) {
  return angle == 0 ? "the cloth"
                    : "the cloth laid at " + rough_number(angle * 180 / std::numbers::pi) + " deg";
}

void warn_of_seams(const MeshContext& context, const RawDrape& drape, double angle,
                   const Drape& laid) {
  if (laid.seams.empty()) {
    return;
  }
  const Vector3 at = laid.seams.front() / context.unit;
  add_warning(context.findings, drape.line, drape.key,
              "found " + counted(laid.seams.size(), "place", "places") + " where " +
                  cloth_text(angle) +
                  " meets itself or would have to shear by more than 80 deg, the first near [" +
                  rough_number(at.x()) + ", " + rough_number(at.y()) + ", " + rough_number(at.z()) +
                  "]: it must be cut, lapped or darted there");
}

} // namespace

std::optional<std::vector<Yarns>> draped_yarns(const MeshContext& context, const RegionPart& part,
                                               double angle) {
  const RawDrape& given = *part.raw.drape;
  const Triangulation triangulation = triangulate(context.mesh);
  PerElement<bool> is_part(context.mesh.elements.size(), false);
  for (const ElementId element : part.elements) {
    is_part[element] = true;
  }
  const auto is_to_be_covered = [&](TriangleId id) { return is_part[triangulation.element[id]]; };
  const WalkSurface surface = walk_surface(context.mesh, triangulation, is_to_be_covered);
  const auto warp = start_warp(context, part, surface, angle);
  if (!warp || !check_step(context, part)) {
    return std::nullopt;
  }
  Drape laid;
  try {
    laid = drape(context.mesh, triangulation, is_to_be_covered,
                 {given.start->value * context.unit, *warp}, {value_or_zero(given.step), {}});
  } catch (const InputError& error) {
    for (const std::string& finding : error.findings()) {
      const bool names_key = finding.starts_with("drape: ");
      add_error(context.findings, given.line, given.key, finding.substr(names_key ? 7 : 0));
    }
    return std::nullopt;
  }
  warn_of_seams(context, given, angle, laid);
  PerElement<Yarns> yarns = yarns_of_elements(context.mesh, triangulation, laid.yarns);
  double bare = 0;
  double whole = 0;
  ElementId first_bare;
  for (const ElementId element : part.elements) {
    const double area = element_area(context.mesh, element);
    whole += area;
    if (!yarns[element].is_covered) {
      bare += area;
      first_bare = first_bare.valid() ? first_bare : element;
    }
  }
  std::vector<Yarns> result;
  if (bare > 0) {
    add_warning(context.findings, given.line, given.key,
                "found " + share_text(bare / whole) +
                    " of the region that the net of yarns does not reach, such as " +
                    element_text(context, first_bare) + ": " + cloth_text(angle) +
                    " is taken to go on there without shear");
    carry_on(context.mesh, is_part, yarns);
  }
  for (const ElementId element : part.elements) {
    if (!yarns[element].is_covered) {
      add_error(context.findings, given.line, given.key,
                "found " + element_text(context, element) +
                    " apart from what the cloth covers, expected a region that hangs together, or "
                    "one for each piece");
      return std::nullopt;
    }
    result.push_back(yarns[element]);
  }
  return result;
}

} // namespace tidemark
