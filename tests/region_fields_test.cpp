// Regions by position, and thickness, fibres and direction that differ from element to element;
// messages are in bad_input_test.cpp.
#include "io/region_fields.hpp"
#include "mesh/drape.hpp"
#include "solver/channel.hpp"
#include "solver/element_permeability.hpp"
#include "solver/flow_metric.hpp"
#include "solver/sheared_fabric.hpp"
#include "support/checked_fill.hpp"
#include "support/closeness.hpp"
#include "support/meshes.hpp"
#include "support/small_case.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double degree = pi / 180;

/// Fed along x = 0 at 1 bar with a resin of 0.2 Pa s, every dry place vented.
const std::string rest_of_case =
    "[resin]\nviscosity = \"200 mPa.s\"\n[injector]\npressure_cap = \"1 bar\"\n"
    "[[gate]]\nname = \"G\"\ngroup = \"start\"\n[cavity]\npressure = \"0 bar\"\n"
    "sealed_air = false\n";

FillProblem problem_of(const ShellMesh& mesh, const std::string& regions) {
  const Outcome outcome =
      outcome_of("[part]\nmesh = \"part.msh\"\nmesh_unit = \"m\"\n" + regions + rest_of_case, mesh);
  for (const std::string& error : outcome.errors) {
    FAIL_CHECK(error);
  }
  for (const std::string& warning : outcome.warnings) {
    FAIL_CHECK(warning);
  }
  return outcome.problem;
}

std::string region_text(const std::string& keys) {
  return "[[region]]\nname = \"skin\"\n" + keys;
}

const std::string direct = "permeability = [\"3e-9 m2\", \"1e-9 m2\"]\nporosity = 0.8\n";

/// 0.9 mm of solid fibre; K = 1e-9 m2 (1 - Vf)^3 / Vf^2.
const std::string woven =
    "[fabric.woven]\nareal_weight = \"2250 g/m2\"\nfibre_density = \"2500 kg/m3\"\n"
    "permeability = { law = \"kozeny-carman\", constant = \"1e-9 m2\", valid = [0.1, 0.8] }\n";
/// Of the same weight, not balanced, and with K1 off the warp.
const std::string skewed =
    "[fabric.woven]\nareal_weight = \"2250 g/m2\"\nfibre_density = \"2500 kg/m3\"\n"
    "warp_to_k1 = \"20 deg\"\npermeability = { law = \"kozeny-carman\", constant = [\"1e-9 m2\", "
    "\"3e-10 m2\"], valid = [0.1, 0.8] }\n";

/// A strip 1 m x 0.3 m of irregular triangles with its start, x = 0, as a group.
ShellMesh strip_mesh(bool quads = false) {
  ShellMesh mesh = plate({.length = 1,
                          .width = 0.3,
                          .columns = 40,
                          .rows = 12,
                          .jitter = 0.25,
                          .seed = 1,
                          .quads = quads});
  mesh.node_sets.push_back(
      {"start", nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; })});
  return mesh;
}

void add_array(ShellMesh& mesh, const std::string& name,
               const std::function<double(const Vector3&)>& value) {
  ElementArray array{name, 1, false, {}};
  for (const ElementId element : mesh.elements.ids()) {
    array.values.push_back(value(element_centre(mesh, element)));
  }
  mesh.element_arrays.push_back(std::move(array));
}

void add_vectors(ShellMesh& mesh, const std::string& name,
                 const std::function<Vector3(const Vector3&)>& value) {
  ElementArray array{name, 3, false, {}};
  for (const ElementId element : mesh.elements.ids()) {
    const Vector3 vector = value(element_centre(mesh, element));
    array.values.insert(array.values.end(), {vector.x(), vector.y(), vector.z()});
  }
  mesh.element_arrays.push_back(std::move(array));
}

void add_set(ShellMesh& mesh, const std::string& name,
             const std::function<bool(const Vector3&)>& test) {
  ElementSet set{name, {}};
  for (const ElementId element : mesh.elements.ids()) {
    if (test(element_centre(mesh, element))) {
      set.elements.push_back(element);
    }
  }
  mesh.element_sets.push_back(std::move(set));
}

/// Both fill alike, to rounding.
void check_same_fill(const FillProblem& one, const FillProblem& other) {
  const CheckedFill of_one = checked_fill(one);
  const CheckedFill of_other = checked_fill(other);
  REQUIRE(of_one.fill_time);
  REQUIRE(of_other.fill_time);
  CHECK(relative_error(*of_one.fill_time, *of_other.fill_time) < 1e-8);
  CHECK(relative_error(of_one.pore_volume, of_other.pore_volume) < 1e-12);
  double worst = 0;
  for (const NodeId node : one.mesh.positions.ids()) {
    worst =
        std::max(worst, std::abs(of_one.fill_time_field[node] - of_other.fill_time_field[node]));
  }
  CHECK(worst < 1e-6 * *of_one.fill_time);
}

/// Permeability in space.
Eigen::Matrix3d tensor(const FillProblem& problem, ElementId element, const Vector3& along) {
  const Reinforcement local = reinforcement_at(problem, element);
  const Vector3 across = element_normal(problem.mesh, element).cross(along);
  return local.permeability_1 * along * along.transpose() +
         local.permeability_2 * across * across.transpose();
}

/// The largest difference of K, of that of the first; both on the same elements.
double largest_difference(const FillProblem& one, const FillProblem& other) {
  const PerElement<Vector3> along = direction_1(one);
  const PerElement<Vector3> other_along = direction_1(other);
  double worst = 0;
  for (const ElementId element : along.ids()) {
    const Eigen::Matrix3d k = tensor(one, element, along[element]);
    const Eigen::Matrix3d difference = k - tensor(other, element, other_along[element]);
    worst = std::max(worst, difference.norm() / k.norm());
  }
  return worst;
}

} // namespace

TEST_CASE("regions by box and sphere are those of groups") {
  ShellMesh mesh = strip_mesh();
  add_set(mesh, "left", [](const Vector3& x) { return x.x() <= 0.4; });
  add_set(mesh, "round",
          [](const Vector3& x) { return (x - Vector3(0.7, 0.1, 0)).norm() <= 0.15; });
  const auto regions = [](const std::string& left, const std::string& round) {
    return "[[region]]\nname = \"left\"\n" + left +
           "thickness = \"4 mm\"\npermeability = \"2e-9 m2\"\nporosity = 0.8\n"
           "[[region]]\nname = \"round\"\n" +
           round +
           "thickness = \"6 mm\"\npermeability = \"5e-10 m2\"\nporosity = 0.7\n"
           "[[region]]\nname = \"rest\"\nthickness = \"5 mm\"\npermeability = \"1e-9 m2\"\n"
           "porosity = 0.75\n";
  };
  const FillProblem by_groups =
      problem_of(mesh, regions("groups = [\"left\"]\n", "groups = [\"round\"]\n"));
  const FillProblem by_place =
      problem_of(mesh, regions("box = [[0.4, 0.3, 0], [0, 0, 0]]\n",
                               "sphere = { centre = [0.7, 0.1, 0], radius = \"150 mm\" }\n"));
  CHECK(by_place.element_region == by_groups.element_region);
  check_same_fill(by_groups, by_place);
  // The first region that names an element takes it.
  const FillProblem nested =
      problem_of(mesh, regions("box = [[0, 0, -1], [0.7, 1, 1]]\ngroups = [\"round\"]\n",
                               "groups = [\"round\"]\n"));
  for (const ElementId element : nested.element_region.ids()) {
    const Vector3 at = element_centre(mesh, element);
    const bool is_round = by_groups.element_region[element] == RegionId(1);
    CHECK(nested.element_region[element] == RegionId(!is_round ? 2 : at.x() <= 0.7 ? 0 : 1));
  }
}

TEST_CASE("arrays of one value are that value") {
  for (const bool quads : {false, true}) {
    ShellMesh mesh = strip_mesh(quads);
    add_array(mesh, "t", [](const Vector3&) { return 4; });
    add_array(mesh, "a", [](const Vector3&) { return 30; });
    add_array(mesh, "vf", [](const Vector3&) { return 30; });
    add_vectors(mesh, "d", [](const Vector3&) { return Vector3(2, 2, 0); });
    const FillProblem plain =
        problem_of(mesh, region_text(direct + "thickness = \"4 mm\"\ndirection = [1, 1, 0]\n"
                                              "angle = \"30 deg\"\n"));
    const FillProblem by_array =
        problem_of(mesh, region_text(direct + "thickness = { array = \"t\", unit = \"mm\" }\n"
                                              "direction = { array = \"d\" }\n"
                                              "angle = { array = \"a\", unit = \"deg\" }\n"));
    CHECK(largest_difference(plain, by_array) < 1e-14);
    check_same_fill(plain, by_array);
    const std::string layup = "layup = [{ fabric = \"woven\", angle = \"10 deg\" }]\n"
                              "direction = [1, 0, 0]\n";
    const FillProblem laid =
        problem_of(mesh, region_text(layup + "fibre_volume_fraction = 0.3\n") + skewed);
    const FillProblem laid_by_array = problem_of(
        mesh,
        region_text(layup + "fibre_volume_fraction = { array = \"vf\", unit = \"%\" }\n") + skewed);
    CHECK(largest_difference(laid, laid_by_array) < 1e-12);
    check_same_fill(laid, laid_by_array);
    CHECK(relative_error(laid_by_array.regions[0].thickness, 3e-3) < 1e-12); // 0.9 mm / 0.3
  }
}

TEST_CASE("what a region takes from arrays, boxes and drapes is among the values used") {
  ShellMesh mesh = strip_mesh();
  add_array(mesh, "t", [](const Vector3&) { return 4; });
  const Outcome outcome =
      outcome_of("[part]\nmesh = \"part.msh\"\nmesh_unit = \"m\"\n" +
                     region_text("thickness = { array = \"t\", unit = \"mm\" }\n"
                                 "box = [[0, 0, 0], [1, 0.3, 0]]\n"
                                 "sphere = { centre = [0.5, 0, 0], radius = \"2 m\" }\n"
                                 "layup = [{ fabric = \"woven\" }]\n"
                                 "drape = { start = [0.5, 0.1, 0], direction = [1, 0, 0] }\n") +
                     woven + rest_of_case,
                 mesh);
  CHECK(outcome.errors.empty());
  const auto is_used = [&](const char* key, const char* value, bool given) {
    const UsedValue used = value_of(outcome, key);
    CHECK(used.value == value);
    CHECK(used.given == given);
  };
  is_used("region[skin].thickness", "array \"t\" of the mesh, in mm", true);
  is_used("region[skin].box", "[[0, 0, 0], [1, 0.3, 0]]", true);
  is_used("region[skin].sphere.centre", "[0.5, 0, 0]", true);
  is_used("region[skin].sphere.radius", "2 m", true);
  is_used("region[skin].drape.start", "[0.5, 0.1, 0]", true);
  is_used("region[skin].angle", "0 deg", false);
  is_used("fabric[woven].woven", "true: it shears like a net of yarns", false);
  is_used("fabric[woven].locking_angle", "not known: nothing is said of wrinkles", false);
}

TEST_CASE("means and spread of a region whose thickness differs") {
  ShellMesh mesh = small_plate();
  mesh.node_sets.push_back({"start", {NodeId(0), NodeId(4), NodeId(8)}});
  ElementArray array{"t", 1, false, {}};
  for (int i = 0; i < 12; ++i) {
    array.values.push_back(i < 4 ? 2 : 5); // of twelve equal triangles
  }
  mesh.element_arrays.push_back(array);
  const std::string thickness = "thickness = { array = \"t\", unit = \"mm\" }\n";
  const FillProblem problem =
      problem_of(mesh, region_text(thickness + "layup = [{ fabric = \"woven\" }]\n") + woven);
  const RegionSpread spread = region_spread(problem, RegionId(0));
  CHECK(relative_error(spread.thickness.least, 2e-3) < 1e-12);
  CHECK(relative_error(spread.thickness.most, 5e-3) < 1e-12);
  CHECK(relative_error(spread.fibre_volume_fraction.least, 0.18) < 1e-12); // 0.9 / 5
  CHECK(relative_error(spread.fibre_volume_fraction.most, 0.45) < 1e-12);  // 0.9 / 2
  CHECK_FALSE(spread.sheared_most.valid());
  CHECK(relative_error(problem.regions[0].thickness, 4e-3) < 1e-12); // (2 + 2 * 5) / 3
  CHECK(relative_error(fibre_volume_fraction(problem.regions[0]), 0.27) < 1e-12);
  // 4 mm less 0.9 mm of fibres.
  CHECK(relative_error(problem.regions[0].porosity, 3.1 / 4) < 1e-12);
  // A race track is as deep as the cavity beside it: 2 mm at x = 0, 5 mm at x = 30 mm.
  const Channel track =
      race_track("edge", problem, {{NodeId(0), NodeId(4)}, {NodeId(3), NodeId(7)}}, 1e-3, {});
  CHECK(relative_error(track.area[0], 2e-6) < 1e-12);
  CHECK(relative_error(track.area[1], 5e-6) < 1e-12);
}

TEST_CASE("shear of one value on a strip, by hand") {
  // 30 degrees: Vf = 0.45 / cos 30 = 0.51961524; K1 = sqrt(3) and K2 = 1 / sqrt(3) times
  // 1e-9 (1 - Vf)^3 / Vf^2 = 4.1059e-10 m2, K1 half-way between the yarns, 30 degrees from the
  // warp.
  ShellMesh mesh = strip_mesh();
  add_array(mesh, "g", [](const Vector3&) { return 30; });
  const std::string keys = "thickness = \"2 mm\"\nlayup = [{ fabric = \"woven\" }]\n"
                           "direction = [1, 0, 0]\nangle = \"-30 deg\"\n"
                           "shear = { array = \"g\", unit = \"deg\" }\n";
  const FillProblem problem = problem_of(mesh, region_text(keys) + woven);
  const double vf = 0.51961524227;
  const double k = 1e-9 * std::pow(1 - vf, 3) / (vf * vf);
  CHECK(std::abs(k - 4.1059e-10) < 1e-14);
  const PerElement<Vector3> along = direction_1(problem);
  for (const ElementId element : mesh.elements.ids()) {
    const Reinforcement local = reinforcement_at(problem, element);
    CHECK(relative_error(local.fibre_volume_fraction, vf) < 1e-9);
    CHECK(relative_error(local.permeability_1, k * std::sqrt(3.0)) < 1e-9);
    CHECK(relative_error(local.permeability_2, k / std::sqrt(3.0)) < 1e-9);
    CHECK(std::abs(along[element].y()) < 1e-9); // K1 along the strip
    CHECK(relative_error(local.shear, 30 * degree) < 1e-12);
  }
  // mu phi L^2 / (2 K1 dp).
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 0.2 * (1 - vf) / (2 * k * std::sqrt(3.0) * 1e5)) < 1e-3);
}

TEST_CASE("shear by an array: a ply laid across shares the yarns") {
  ShellMesh mesh = strip_mesh();
  add_array(mesh, "g", [](const Vector3& x) { return 40 * x.x(); });
  const auto problem = [&](const std::string& plies) {
    return problem_of(mesh, region_text("thickness = \"2 mm\"\nlayup = [" + plies +
                                        "]\ndirection = [1, 1, 0]\n"
                                        "shear = { array = \"g\", unit = \"deg\" }\n") +
                                woven);
  };
  // A balanced weave is the same seen along its weft.
  CHECK(largest_difference(problem("{ fabric = \"woven\" }"),
                           problem("{ fabric = \"woven\", angle = \"90 deg\" }")) < 1e-12);
}

TEST_CASE("drape on a plane: no shear, and the fill without it") {
  for (const bool quads : {false, true}) {
    const ShellMesh mesh = strip_mesh(quads);
    for (const std::string layup :
         {"layup = [{ fabric = \"woven\" }]\n",
          "layup = [{ fabric = \"woven\", angle = \"45 deg\" }]\n",
          "layup = [{ fabric = \"woven\" }, { gap = \"1 mm\" }, { fabric = \"woven\", angle = \"30 "
          "deg\" }]\n",
          "layup = [{ fabric = \"woven\", angle = \"30 deg\" }, { core = \"3 mm\", grooves = { "
          "width "
          "= "
          "\"1 mm\", depth = \"1 mm\", spacing = \"20 mm\" } }]\n"}) {
      CAPTURE(layup);
      const std::string keys = "thickness = \"6 mm\"\nangle = \"5 deg\"\n" + layup;
      const FillProblem plain =
          problem_of(mesh, region_text(keys + "direction = [1, 0.5, 0]\n") + skewed);
      const FillProblem draped = problem_of(
          mesh,
          region_text(keys + "drape = { start = [0.5, 0.15, 0], direction = [1, 0.5, 0] }\n") +
              skewed);
      CHECK(std::abs(region_spread(draped, RegionId(0)).shear) < 1e-9);
      CHECK(largest_difference(plain, draped) < 1e-9);
      check_same_fill(plain, draped);
    }
  }
}

namespace {

/// Half a sphere of radius 0.5 m, fed at its pole.
ShellMesh cap_mesh() {
  ShellMesh mesh = disc(0.25 * pi, 24, 0.2, 12);
  wrap_on_sphere(mesh, 0.5);
  mesh.node_sets.push_back({"start", {nearest_node(mesh, Vector3(0, 0, 0.5))}});
  return mesh;
}

const std::string cap_keys = "thickness = \"3 mm\"\nlayup = [{ fabric = \"woven\" }]\n"
                             "drape = { start = [0, 0, 0.5], direction = [1, 0, 0] }\n";

} // namespace

TEST_CASE("drape on a sphere: the yarns are those of the net, K turned with them") {
  const ShellMesh mesh = cap_mesh();
  const FillProblem problem = problem_of(mesh, region_text(cap_keys) + woven);
  const Triangulation triangulation = triangulate(mesh);
  const Drape net = drape(mesh, triangulation, [](TriangleId) { return true; },
                          {Vector3(0, 0, 0.5), Vector3::UnitX()});
  CHECK(net.largest_shear > 25 * degree);
  CHECK(std::abs(region_spread(problem, RegionId(0)).shear) == net.largest_shear);
  const PerElement<Vector3> along = direction_1(problem);
  for (const TriangleId id : triangulation.corners.ids()) {
    const ElementId element = triangulation.element[id];
    const Yarns& yarns = net.yarns[id];
    const Reinforcement local = reinforcement_at(problem, element);
    REQUIRE(yarns.is_covered);
    CHECK(local.shear == yarns.shear);
    CHECK(relative_error(local.fibre_volume_fraction, 0.3 / std::cos(yarns.shear)) < 1e-12);
    if (std::abs(yarns.shear) > 0.1 * degree) {
      // Along the bisector of the acute angle, whichever way.
      const Vector3 acute = yarns.warp + (yarns.shear > 0 ? 1 : -1) * yarns.weft;
      CHECK(std::abs(along[element].dot(acute.normalized())) > 1 - 1e-9);
      const double sine = std::sin(std::abs(yarns.shear));
      CHECK(relative_error(local.permeability_1 / local.permeability_2, (1 + sine) / (1 - sine)) <
            1e-9);
    }
  }
}

TEST_CASE("shear and directions by arrays are the drape they come from") {
  ShellMesh mesh = cap_mesh();
  const Triangulation triangulation = triangulate(mesh);
  const Drape net = drape(mesh, triangulation, [](TriangleId) { return true; },
                          {Vector3(0, 0, 0.5), Vector3(1, 0.3, 0)});
  ElementArray shear{"g", 1, false, {}};
  ElementArray warp{"w", 3, false, {}};
  for (const Yarns& yarns : yarns_of_elements(mesh, triangulation, net.yarns)) {
    shear.values.push_back(yarns.shear);
    warp.values.insert(warp.values.end(), yarns.warp.begin(), yarns.warp.end());
  }
  mesh.element_arrays = {shear, warp};
  // The second ply has a net of its own in the drape, but the same yarns.
  const std::string keys = "thickness = \"6 mm\"\nlayup = [{ fabric = \"woven\" }, { fabric = "
                           "\"woven\", angle = \"90 deg\" }]\n";
  const FillProblem draped = problem_of(
      mesh,
      region_text(keys + "drape = { start = [0, 0, 0.5], direction = [1, 0.3, 0] }\n") + skewed);
  const FillProblem by_arrays =
      problem_of(mesh, region_text(keys + "shear = { array = \"g\", unit = \"rad\" }\n"
                                          "direction = { array = \"w\" }\n") +
                           skewed);
  CHECK(largest_difference(draped, by_arrays) < 1e-6);
}

TEST_CASE("drape: which way round the corners of an element go does not matter") {
  const ShellMesh mesh = cap_mesh();
  ShellMesh turned = mesh;
  for (const ElementId element : mesh.elements.ids()) {
    if (element_centre(mesh, element).x() > 0.05) {
      std::swap(turned.elements[element].nodes[1], turned.elements[element].nodes[2]);
    }
  }
  const std::string keys =
      "thickness = \"6 mm\"\nlayup = [{ fabric = \"woven\" }, { fabric = \"woven\", angle = \"30 "
      "deg\" }]\ndrape = { start = [-0.02, 0.01, 0.5], direction = [1, 0, 0] }\n";
  const FillProblem one = problem_of(mesh, region_text(keys) + skewed);
  const FillProblem other = problem_of(turned, region_text(keys) + skewed);
  CHECK(std::abs(region_spread(one, RegionId(0)).shear) > 20 * degree);
  CHECK(largest_difference(one, other) < 1e-9);
}

TEST_CASE("drape: where cloth meets itself, and what the net does not reach, are told") {
  ShellMesh mesh = disc(0.4 * pi, 24); // four fifths of the way to the other pole
  wrap_on_sphere(mesh, 0.5);
  mesh.node_sets.push_back({"start", {nearest_node(mesh, Vector3(0, 0, 0.5))}});
  const Outcome outcome = outcome_of(
      "[part]\nmesh = \"part.msh\"\nmesh_unit = \"m\"\n" +
          region_text("thickness = \"30 mm\"\nlayup = [{ fabric = \"woven\" }]\ndrape = { start = "
                      "[0, 0, 0.5], direction = [1, 0, 0] }\n") +
          "[fabric.woven]\nareal_weight = \"2250 g/m2\"\nfibre_density = \"2500 kg/m3\"\n"
          "permeability = { law = \"constant\", value = \"1e-9 m2\", valid = [0.02, 0.8] }\n" +
          rest_of_case,
      mesh);
  CHECK(outcome.errors.empty());
  const auto is_told = [&](const std::string& what) {
    return std::ranges::any_of(outcome.warnings, [&](const std::string& warning) {
      return warning.find("region[skin].drape: found ") != std::string::npos &&
             warning.find(what) != std::string::npos;
    });
  };
  CHECK(is_told("it must be cut, lapped or darted there"));
  CHECK(is_told("that the net of yarns does not reach"));
  for (const ElementId element : mesh.elements.ids()) {
    CHECK(std::isfinite(reinforcement_at(outcome.problem, element).permeability_1));
  }
  CHECK(checked_fill(outcome.problem).fill_time);
}

TEST_CASE("drape: what is not woven keeps its weight and its angle to the warp") {
  const ShellMesh mesh = cap_mesh();
  const std::string mat = "[fabric.mat]\nareal_weight = \"450 g/m2\"\nfibre_density = \"2500 "
                          "kg/m3\"\nwoven = false\npermeability = { law = \"constant\", value = "
                          "\"1e-9 m2\", valid = [0.1, 0.8] }\n";
  // Both are taken at one fibre volume fraction, with a warning.
  const Outcome outcome = outcome_of(
      "[part]\nmesh = \"part.msh\"\nmesh_unit = \"m\"\n" +
          region_text("thickness = \"4 mm\"\nlayup = [{ fabric = \"woven\" }, { fabric = "
                      "\"mat\" }]\ndrape = { start = [0, 0, 0.5], direction = [1, 0, 0] }\n") +
          woven + mat + rest_of_case,
      mesh);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.size() == 1);
  for (const ElementId element : mesh.elements.ids()) {
    const Reinforcement local = reinforcement_at(outcome.problem, element);
    // (0.9 / cos(shear) + 0.18) mm of fibres in 4 mm.
    const double expected = (0.9 / std::cos(local.shear) + 0.18) / 4;
    CHECK(relative_error(local.fibre_volume_fraction, expected) < 1e-12);
  }
}

TEST_CASE("a strongly anisotropic region fills alike if its thickness differs by a hair") {
  // K1 / K2 = 10 at 30 degrees: on these triangles all depends on the flips.
  ShellMesh mesh = strip_mesh();
  add_array(mesh, "t", [](const Vector3& x) { return 4 * (1 + 1e-9 * x.x()); });
  const std::string k = "permeability = [\"2e-9 m2\", \"2e-10 m2\"]\nporosity = 0.8\n"
                        "direction = [1, 0, 0]\nangle = \"30 deg\"\n";
  const FillProblem uniform = problem_of(mesh, region_text(k + "thickness = \"4 mm\"\n"));
  const FillProblem varied =
      problem_of(mesh, region_text(k + "thickness = { array = \"t\", unit = \"mm\" }\n"));
  const FlowTriangles flips = flow_triangles(varied, triangulate(mesh));
  CHECK(flips.flipped > 100);
  CHECK(flips.flipped == flow_triangles(uniform, triangulate(mesh)).flipped);
  const CheckedFill of_uniform = checked_fill(uniform);
  const CheckedFill of_varied = checked_fill(varied);
  REQUIRE(of_varied.fill_time);
  CHECK(relative_error(*of_varied.fill_time, of_uniform.fill_time.value()) < 1e-6);
}

TEST_CASE("an edge between elements that differ by more than a quarter stays") {
  // The diagonal faces an obtuse angle.
  const ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, {1, 0.2, 0}, {0.2, 0.2, 0}},
                                 {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}},
                                  {{NodeId(0), NodeId(2), NodeId(3), NodeId()}}});
  const FillProblem problem = problem_on(mesh, {NodeId(0)});
  const auto flips = [&](double factor) {
    const Reinforcement whole = reinforcement_at(problem, ElementId(0));
    FillProblem varied = problem;
    Reinforcement thick = whole;
    thick.thickness *= factor;
    varied.reinforcement = {whole, thick};
    return flow_triangles(varied, triangulate(mesh)).flipped;
  };
  const std::size_t uniform = flow_triangles(problem, triangulate(mesh)).flipped;
  CHECK(uniform == 1);
  CHECK(flips(1) == 1);
  CHECK(flips(1.2) == 1);
  CHECK(flips(1.3) == 0);
}
